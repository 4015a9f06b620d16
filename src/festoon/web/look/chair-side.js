// <chair-side case surgery>: readings at the chair by a few keys or taps. An entry is kept by this browser with its key until
// festoon has acknowledged it on disk: what was sent twice after a lost connection counts once.
import { ask, inWords, tell, words } from "/look/api.js";

/** @typedef {import("./api-types").Now} Now */
/** @typedef {{ what: string, body: { key: string, text?: string } }} Pending */
/** @typedef {import("/look/api.js").Refusal} Refusal */

class ChairSide extends HTMLElement {
  path = `/api/cases/${encodeURIComponent(this.getAttribute("case") ?? "")}/surgeries/${this.getAttribute("surgery")}`;
  shelf = `festoon-pending ${this.path}`;
  sending = Promise.resolve();
  halted = false;

  connectedCallback() {
    this.addEventListener("submit", (event) => this.submitted(event));
    this.addEventListener("click", (event) => this.clicked(/** @type {HTMLElement} */ (event.target).closest("button")));
    for (const pending of this.pending()) this.queue(pending);
  }

  /** @param {string} selector */
  find(selector) { return /** @type {HTMLElement} */ (this.querySelector(selector)); }

  get input() { return /** @type {HTMLInputElement} */ (this.querySelector(".chair-form input")); }

  /** @returns {Pending[]} */
  pending() { return JSON.parse(localStorage.getItem(this.shelf) ?? "[]"); }

  /** @param {SubmitEvent} event */
  submitted(event) {
    event.preventDefault();
    const form = /** @type {HTMLFormElement} */ (event.target);
    const fields = /** @type {Record<string, HTMLInputElement>} */ (/** @type {unknown} */ (form.elements));
    if (form.classList.contains("chair-off")) {
      const { by, role, remark, rest } = fields;
      /** @type {Record<string, string>} */
      const reasons = {};
      for (const field of /** @type {NodeListOf<HTMLInputElement>} */ (form.querySelectorAll("[data-reason]"))) {
        const why = field.value.trim() || rest.value.trim();
        if (why) reasons[field.dataset.reason ?? ""] = why;
      }
      this.put("sign-off", { by: by.value, role: role.value, reasons, remark: remark.value || null });
      return;
    }
    if (form.classList.contains("chair-remark")) {
      this.put("remarks", { text: fields.text.value.trim() });
      form.reset();
      return;
    }
    const text = this.input.value.trim();
    if (!text) return;
    this.input.value = "";
    this.put("entries", { text });
  }

  /** @param {HTMLButtonElement | null} button */
  clicked(button) {
    if (!button) return;
    if (button.dataset.key) {
      this.input.value = button.dataset.key === "⌫" ? this.input.value.slice(0, -1) : this.input.value + button.dataset.key;
    } else if ("undo" in button.dataset) this.put("undo", {});
    else if (button.dataset.step) this.put("steps", { step: button.dataset.step });
  }

  /** Keep an entry here first, then send it; one at a time and in order. @param {string} what @param {object} body */
  put(what, body) {
    const pending = { what, body: { ...body, key: crypto.randomUUID() } };
    localStorage.setItem(this.shelf, JSON.stringify([...this.pending(), pending]));
    this.queue(pending);
  }

  /** @param {Pending} pending */
  queue(pending) { this.sending = this.sending.then(() => this.send(pending)); }

  /**
   * Send one entry until it is acknowledged. A number alone means what is asked for after the entries before it: where one of
   * those is refused, nothing typed after it is sent, lest it land on another place.
   * @param {Pending} pending
   */
  async send(pending) {
    if (this.halted || !this.pending().some((other) => other.body.key === pending.body.key)) return;
    this.say(`${words.working} …`);
    for (;;) {
      try {
        /** @type {Now} */
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
        const kind = /** @type {Refusal} */ (error).wrong?.kind ?? "";
        if (kind === "unreachable") {
          this.say(inWords(error));
          await new Promise((again) => setTimeout(again, 2000));
          continue;
        }
        tell(error);
        if (["door", "unwritable", "failed"].includes(kind)) {
          this.halted = true;
          this.say(`${words.waits}: `, inWords(error));
          return;
        }
        const [, ...after] = this.pending();
        this.drop([pending, ...after]);
        // Back into the field: a number typed after it without looking makes no reading with it, and is refused too.
        if (pending.what === "entries") this.input.value = `${pending.body.text} ${this.input.value}`;
        const unsent = after.map((other) => other.body.text ?? other.what).join(", ");
        this.say(`${words.wrong}: `, inWords(error), unsent && ` ${words.unsent} ${unsent}`);
        return;
      }
    }
  }

  /** The state as it is on disk; parts that were opened stay open. @param {Now} now */
  show(now) {
    const place = this.find(".chair-now");
    const open = new Set([...place.querySelectorAll("details")].filter((part) => part.open).map((part) => part.dataset.part));
    place.innerHTML = now.shown;
    for (const part of place.querySelectorAll("details")) part.open = open.has(part.dataset.part);
    this.find(".asked").textContent = now.state.next?.text ?? "";
  }

  /** @param {Pending[]} done */
  drop(done) {
    const keys = new Set(done.map((one) => one.body.key));
    localStorage.setItem(this.shelf, JSON.stringify(this.pending().filter((other) => !keys.has(other.body.key))));
  }

  /** @param {(string | Node)[]} parts */
  say(...parts) { this.find(".said").replaceChildren(...parts); }
}

customElements.define("chair-side", ChairSide);
