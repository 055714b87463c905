/**
 * Takes all metadata out of a JPEG. A re-encoded picture has none of its camera's, but browsers add segments of their
 * own, and a photo must not be able to name a patient, a place or a device whatever the browser.
 *
 * Segments by ITU-T T.81, B.1.1.3 and B.1.1.4. Kept: what a decoder needs, the JFIF header (APP0) and Adobe's colour
 * transform (APP14, ITU-T T.872 6.5.3). The colour profile Chromium adds goes too: our canvas is sRGB, which is what a
 * JPEG without a profile is taken for.
 */

const SOI = 0xd8;
const SOS = 0xda;
const APP0 = 0xe0;
const APP14 = 0xee;
const COM = 0xfe;

/** The bytes are no JPEG of the usual build, so nobody can say what is in them. */
export class NotAJpeg extends Error {
  override readonly name = "NotAJpeg";
}

/** A copy without comments and application data, also without anything behind the picture. Throws NotAJpeg. */
export function withoutMetadata(jpeg: Uint8Array): Uint8Array<ArrayBuffer> {
  const kept = new Uint8Array(jpeg.length);
  let into = 0;
  const keep = (from: number, to: number): void => {
    kept.set(jpeg.subarray(from, to), into);
    into += to - from;
  };
  if (jpeg[0] !== 0xff || jpeg[1] !== SOI) throw new NotAJpeg("no start of image");
  keep(0, 2);
  let at = 2;
  while (jpeg[at + 1] !== SOS) {
    const next = endOfSegment(jpeg, at);
    if (isNeeded(jpeg, at, next)) keep(at, next);
    at = next;
  }
  keep(at, endOfImage(jpeg, at));
  return kept.slice(0, into);
}

function endOfSegment(jpeg: Uint8Array, at: number): number {
  const length = (jpeg[at + 2]! << 8) | jpeg[at + 3]!;
  const next = at + 2 + length;
  if (jpeg[at] !== 0xff || length < 2 || next + 1 >= jpeg.length) throw new NotAJpeg(`no segment at ${at}`);
  return next;
}

function isNeeded(jpeg: Uint8Array, at: number, next: number): boolean {
  const marker = jpeg[at + 1]!;
  const says = (text: string): boolean =>
    next - at - 4 >= text.length && [...text].every((sign, i) => jpeg[at + 4 + i] === sign.charCodeAt(0));
  if (marker === COM) return false;
  if (marker < APP0 || marker > 0xef) return true;
  return (marker === APP0 && says("JFIF\0")) || (marker === APP14 && says("Adobe"));
}

/** Just behind the end-of-image marker. Inside the picture's data 0xFF is followed by 0 or a restart marker. */
function endOfImage(jpeg: Uint8Array, from: number): number {
  for (let at = from; at + 1 < jpeg.length; at += 1) {
    if (jpeg[at] === 0xff && jpeg[at + 1] === 0xd9) return at + 2;
  }
  throw new NotAJpeg("no end of image");
}
