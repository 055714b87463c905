/** What the record is told once by the page that starts it: its build, its clock, the way to the server. */

export interface RecordSetting {
  /** The build's name, written into every entry. */
  readonly build: string;
  readonly now: () => Date;
  readonly fetch: typeof fetch;
  /** Where the server answers; "" = the page's own origin. */
  readonly base: string;
  /** Name of the browser's database. */
  readonly store: string;
}

let setting: RecordSetting = {
  build: "unnamed",
  now: () => new Date(),
  fetch: (input, init) => globalThis.fetch(input, init),
  base: "",
  store: "loupebook",
};

/** Changes what is named; call it before the first save. */
export function configureRecord(change: Partial<RecordSetting>): void {
  setting = { ...setting, ...change };
}

export function settings(): RecordSetting {
  return setting;
}
