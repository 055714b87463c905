/** Finds codes in a picture with zxing-wasm, its wasm served by us. */

import type { ReaderOptions, ReadResult } from "zxing-wasm/reader";
import { prepareZXingModule, readBarcodes } from "zxing-wasm/reader";
import wasmUrl from "zxing-wasm/reader/zxing_reader.wasm?url";
import type { Corner, Effort, ScannedCode } from "./scan-messages";

/** Long edge in pixels at which a still is looked at first. */
const HALF_EDGE = 1600;

/**
 * Plain: the text as it stands in the symbol, GS1 separators as 0x1D, as the server reads it; the reader's own
 * default would put GS1 in brackets. Code39Std: plain Code39 also tries the extended set and turned "+A123" of
 * a HIBC into "a123".
 */
const COMMON = { textMode: "Plain", formats: ["DataMatrix", "QRCode", "Code128", "Code39Std"], maxNumberOfSymbols: 8 } as const;

const EFFORTS: Readonly<Record<"fast" | "hard", ReaderOptions>> = {
  fast: { ...COMMON, formats: [...COMMON.formats], tryHarder: false, tryRotate: false, tryInvert: false, tryDownscale: false },
  hard: { ...COMMON, formats: [...COMMON.formats], tryHarder: true, tryRotate: true, tryInvert: true, tryDownscale: true },
};

/** Begin loading the wasm, from our own address. */
export function loadReader(): void {
  prepareZXingModule({
    overrides: { locateFile: (path: string, prefix: string) => (path.endsWith(".wasm") ? wasmUrl : prefix + path) },
    fireImmediately: false,
  });
}

/** The codes in a picture. Closes the picture. Throws where the canvas or the reader breaks. */
export async function scan(picture: ImageBitmap, effort: Effort): Promise<ScannedCode[]> {
  try {
    if (effort !== "still") return await read(pixels(picture, picture.width), effort);
    const edge = Math.max(picture.width, picture.height);
    const half = edge > HALF_EDGE ? await read(pixels(picture, Math.round((picture.width * HALF_EDGE) / edge)), "hard") : [];
    // A large label found at half size must not keep the small code beside it from being looked for.
    const full = await read(pixels(picture, picture.width), "hard");
    return [...half, ...full.filter((code) => !half.some((known) => known.text === code.text && known.format === code.format))];
  } finally {
    picture.close();
  }
}

function pixels(picture: ImageBitmap, width: number): ImageData {
  const height = Math.max(1, Math.round((picture.height * width) / picture.width));
  const canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext("2d", { willReadFrequently: true });
  if (context === null) throw new Error("no canvas for the frame");
  context.drawImage(picture, 0, 0, width, height);
  return context.getImageData(0, 0, width, height);
}

async function read(frame: ImageData, effort: "fast" | "hard"): Promise<ScannedCode[]> {
  const found = await readBarcodes(frame, EFFORTS[effort]);
  return found.flatMap((code) => {
    const format = formatOf(code);
    return code.isValid && format !== null ? [scanned(code, format, frame)] : [];
  });
}

function formatOf({ format }: ReadResult): ScannedCode["format"] | null {
  if (format === "DataMatrix" || format === "Code128") return format;
  if (format.startsWith("QRCode")) return "QRCode";
  return format.startsWith("Code39") ? "Code39" : null;
}

function scanned(code: ReadResult, format: ScannedCode["format"], { width, height }: ImageData): ScannedCode {
  const corner = ({ x, y }: { x: number; y: number }): Corner => [x / width, y / height];
  const { topLeft, topRight, bottomRight, bottomLeft } = code.position;
  return {
    text: code.text,
    symbology: code.symbologyIdentifier,
    format,
    contentType: code.contentType,
    corners: [corner(topLeft), corner(topRight), corner(bottomRight), corner(bottomLeft)],
  };
}
