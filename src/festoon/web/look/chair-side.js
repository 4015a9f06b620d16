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
      const { by, role, remark, rest } = form.elements;
      const reasons = {};
      for (const field of form.querySelectorAll("[data-reason]")) {
        const why = field.value.trim() || rest.value.trim();
        if (why) reasons[field.dataset.reason] = why;
      }
      this.put("sign-off", { by: by.value, role: role.value, reasons, remark: remark.value || null });
      return;
    }
    if (form.classList.contains("chair-remark")) {
      this.put("remarks", { text: form.elements.text.value.trim() });
      form.reset();
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

  /**
   * Send one entry until it is acknowledged. A number alone means what is asked for after the entries before it: where one of
   * those is refused, nothing typed after it is sent, lest it land on another place.
   */
  async send(pending) {
    if (this.halted || !this.pending().some((other) => other.body.key === pending.body.key)) return;
    this.say(`${words.working} …`);
    for (;;) {
      try {
        const now = await ask("POST", `${this.path}/${pending.what}`, pending.body);
        this.drop([pending]);
        tell(null);
        this.show(now);
        const entry = now.state.entries.at(-1);
        const answer = entry?.entry.kind === "reading" ? this.querySelector(".latest strong")?.textContent ?? "" : "";
        this.say(`${words.kept}: ${entry?.text ?? ""}${answer && ` · ${answer}`}`);
        if (pending.what === "sign-off") location.replace(location.href);
        return;
      } catch (error) {
        if (error.wrong?.kind === "unreachable") {
          this.say(error.message);
          await new Promise((again) => setTimeout(again, 2000));
          continue;
        }
        tell(error);
        if (["door", "unwritable", "failed"].includes(error.wrong?.kind)) {
          this.halted = true;
          this.say(`${words.waits}: ${error.message}`);
          return;
        }
        const [, ...after] = this.pending();
        this.drop([pending, ...after]);
        // Back into the field: a number typed after it without looking makes no reading with it, and is refused too.
        if (pending.what === "entries") this.input.value = `${pending.body.text} ${this.input.value}`;
        const unsent = after.map((other) => other.body.text ?? other.what).join(", ");
        this.say(`${words.wrong}: ${error.message}${unsent && ` ${words.unsent} ${unsent}`}`);
        return;
      }
    }
  }

  /** The state as it is on disk; parts that were opened stay open. */
  show(now) {
    const place = this.querySelector(".chair-now");
    const open = new Set([...place.querySelectorAll("details[open]")].map((part) => part.dataset.part));
    place.innerHTML = now.shown;
    for (const part of place.querySelectorAll("details")) part.open = open.has(part.dataset.part);
    this.querySelector(".asked").textContent = now.state.next?.text ?? "";
  }

  drop(done) {
    const keys = new Set(done.map((one) => one.body.key));
    localStorage.setItem(this.shelf, JSON.stringify(this.pending().filter((other) => !keys.has(other.body.key))));
  }

  say(text) { this.querySelector(".said").textContent = text; }
}

customElements.define("chair-side", ChairSide);
