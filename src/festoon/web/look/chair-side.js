// <chair-side case surgery>: readings at the chair by a few keys or taps. An entry is kept by this browser with its key until
// festoon has acknowledged it on disk: what was sent twice after a lost connection counts once.
import { ask, tell, words } from "/look/api.js";

class ChairSide extends HTMLElement {
  connectedCallback() {
    this.path = `/api/cases/${encodeURIComponent(this.getAttribute("case"))}/surgeries/${this.getAttribute("surgery")}`;
    this.shelf = `festoon-pending ${this.path}`;
    this.input = this.querySelector(".chair-form input");
    this.addEventListener("submit", (event) => this.submitted(event));
    this.addEventListener("click", (event) => this.clicked(event));
    this.sending = Promise.resolve();
    for (const pending of this.pending()) this.queue(pending);
  }

  pending() { return JSON.parse(localStorage.getItem(this.shelf) ?? "[]"); }

  submitted(event) {
    event.preventDefault();
    const form = event.target;
    if (form.classList.contains("chair-off")) {
      const reasons = {};
      for (const field of form.querySelectorAll("[data-reason]")) if (field.value.trim()) reasons[field.dataset.reason] = field.value.trim();
      const { by, role, remark } = form.elements;
      this.put("sign-off", { by: by.value, role: role.value, reasons, remark: remark.value || null });
      return;
    }
    const text = this.input.value.trim();
    if (!text) return;
    this.input.value = "";
    this.put("entries", { text });
  }

  clicked(event) {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.key) {
      this.input.value = button.dataset.key === "⌫" ? this.input.value.slice(0, -1) : this.input.value + button.dataset.key;
    } else if ("undo" in button.dataset) this.put("undo", {});
    else if (button.dataset.step) this.put("steps", { step: button.dataset.step });
  }

  /** Keep an entry here first, then send it; one at a time and in order. */
  put(what, body) {
    const pending = { what, body: { ...body, key: crypto.randomUUID() } };
    localStorage.setItem(this.shelf, JSON.stringify([...this.pending(), pending]));
    this.queue(pending);
  }

  queue(pending) { this.sending = this.sending.then(() => this.send(pending)); }

  async send(pending) {
    this.say(`${words.working} …`);
    for (;;) {
      try {
        const now = await ask("POST", `${this.path}/${pending.what}`, pending.body);
        this.drop(pending);
        tell(null);
        this.querySelector(".chair-now").innerHTML = now.shown;
        this.say(`${words.kept}: ${now.state.entries.at(-1)?.text ?? ""}`);
        if (pending.what === "sign-off") location.replace(location.href);
        return;
      } catch (error) {
        if (error.wrong?.kind === "unreachable") {
          this.say(error.message);
          await new Promise((again) => setTimeout(again, 2000));
          continue;
        }
        this.drop(pending);
        tell(error);
        this.say(`${words.wrong}: ${error.message}`);
        return;
      }
    }
  }

  drop(pending) {
    localStorage.setItem(this.shelf, JSON.stringify(this.pending().filter((other) => other.body.key !== pending.body.key)));
  }

  say(text) { this.querySelector(".said").textContent = text; }
}

customElements.define("chair-side", ChairSide);
