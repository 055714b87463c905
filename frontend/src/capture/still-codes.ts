/** Reads the codes in a photo that was taken, as whole codes with what they say. */
import { readCode, type Code } from "../rules/codes";
import { codesIn } from "./scan";

/** The codes in a photo; none where nothing is read or the reader gives no answer: typing stays open. */
export async function readStill(bytes: ArrayBuffer, type: string, todayYear: number): Promise<readonly Code[]> {
  const picture = await createImageBitmap(new Blob([bytes], { type })).catch(() => undefined);
  if (picture === undefined) return [];
  const found = (await codesIn(picture)) ?? [];
  return found.map((code) => readCode(code.text, code.symbology, todayYear));
}
