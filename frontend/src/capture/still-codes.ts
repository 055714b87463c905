/** Reads the codes in a photo that was taken, as whole codes with what they say. */
import { readCode, type Code } from "../rules/codes";
import { codesIn } from "./scan";

/**
 * The codes in a photo: an empty list where it was looked at and none is there. Null where it was not looked at, since
 * the reader gave no answer or the picture does not open here: nothing is known then of what stands in it.
 */
export async function readStill(bytes: ArrayBuffer, type: string, todayYear: number): Promise<readonly Code[] | null> {
  const picture = await createImageBitmap(new Blob([bytes], { type })).catch(() => undefined);
  if (picture === undefined) return null;
  const found = await codesIn(picture);
  return found === null ? null : found.map((code) => readCode(code.text, code.symbology, todayYear));
}
