/**
 * Practice: a window that works on a store of its own, so that `append` cannot reach the record, and that
 * cannot speak to the server: no token, no address, no fetch. It says so for as long as this window lives.
 */
export const FLAG = "loupebook.practice";

/** Who practises in this window, or nobody: then it is the record's own window. */
export function practising(): string | undefined {
  return sessionStorage.getItem(FLAG) ?? undefined;
}
