/** The one-time code a tablet is enrolled with, wherever it comes from: our label, the link of its QR code, or the address. */

const IN_LINK = /#\/enrol\?code=([0-9A-Za-z%-]+)$/;

/** The code in a text that was scanned; undefined where there is none. */
export function enrolCode(text: string): string | undefined {
  if (text.startsWith("LB1:E:")) {
    const once = text.slice(text.lastIndexOf("|") + 1);
    return text.includes("|") && once !== "" ? once : undefined;
  }
  return inHash(text);
}

/** The code in this page's address. It is taken out of it at once: the address is kept in the browser's history. */
export function takeCodeFromAddress(page: Pick<Window, "location" | "history">): string | undefined {
  const found = inHash(page.location.hash);
  if (found !== undefined) page.history.replaceState(null, "", "#/home");
  return found;
}

function inHash(text: string): string | undefined {
  const found = IN_LINK.exec(text)?.[1];
  return found === undefined ? undefined : new URLSearchParams(`code=${found}`).get("code") ?? undefined;
}
