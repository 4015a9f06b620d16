/** Undo and redo of whole states: what a component edits is small, so each step keeps all of it. */
export class History<State> {
  private readonly past: State[] = [];
  private readonly future: State[] = [];

  constructor(private present: State, private readonly limit = 200) {}

  get state(): State {
    return this.present;
  }

  get canUndo(): boolean {
    return this.past.length > 0;
  }

  get canRedo(): boolean {
    return this.future.length > 0;
  }

  keep(next: State): void {
    this.past.push(this.present);
    if (this.past.length > this.limit) this.past.shift();
    this.future.length = 0;
    this.present = next;
  }

  undo(): State {
    const before = this.past.pop();
    if (before !== undefined) {
      this.future.push(this.present);
      this.present = before;
    }
    return this.present;
  }

  redo(): State {
    const after = this.future.pop();
    if (after !== undefined) {
      this.past.push(this.present);
      this.present = after;
    }
    return this.present;
  }
}
