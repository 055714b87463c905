/** Addresses of our own scripts, in the form the page's policy asks for (require-trusted-types-for 'script'). */

const OURS = /^\/(?:sw\.js|assets\/[\w.-]+\.js)$/;
const DEV = /^\/(?:src|node_modules|@fs)\//;

/** Whether an address is a script of this build: same origin, by its path. */
export function isOurs(address: string, origin: string, dev: boolean): boolean {
  const url = new URL(address, origin);
  return url.origin === origin && (OURS.test(url.pathname) || (dev && DEV.test(url.pathname)));
}

function checked(address: string): string {
  if (isOurs(address, location.origin, import.meta.env.DEV)) return address;
  throw new TypeError(`${address} is no script of this build`);
}

/** Made once a page: a second policy of the same name is refused by the browser. */
const policy =
  typeof window === "undefined"
    ? undefined
    : window.trustedTypes?.createPolicy("loupebook", { createScriptURL: checked });

/**
 * The address of a worker, ready for `new Worker(...)`. Import it with `?worker&url`.
 * Throws TypeError for an address that is none of ours.
 */
export function scriptUrl(address: string): string {
  // TypeScript's DOM knows no TrustedScriptURL where an address is taken; the browser does.
  return (policy?.createScriptURL(address) ?? checked(address)) as string;
}
