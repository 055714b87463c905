/** A photo of the record, asked for as the server has it now. */
import { say } from "../parts/words";

/** The picture, or words for why there is none, and whether it may come when it is asked for again. */
export type Got = { readonly blob: Blob } | { readonly none: string; readonly again: boolean };

export async function picture(sha256: string, size: "640" | "full"): Promise<Got> {
  const reply = await fetch(`/photos/${sha256}?size=${size}`, { cache: "no-store", credentials: "same-origin", redirect: "error" }).catch(() => undefined);
  const ours = reply?.headers.get("x-loupebook") === "1";
  if (reply?.status === 200 && ours && reply.headers.get("content-type")?.startsWith("image/") === true) return { blob: await reply.blob() };
  const status = ours ? (reply?.status ?? 0) : 0;
  return { none: wordsOf(status), again: !ours || status === 202 };
}

function wordsOf(status: number): string {
  if (status === 202) return say("desk.photo_not_looked");
  if (status === 403) return say("photo.restricted");
  return say(status === 0 ? "desk.photo_no_answer" : "desk.photo_cannot");
}
