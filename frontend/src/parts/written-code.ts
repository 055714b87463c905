/** A QR code written on the tablet itself, without a network: zxing-wasm, its wasm served by us. */
import { prepareZXingModule, writeBarcode } from "zxing-wasm/writer";
import wasmUrl from "zxing-wasm/writer/zxing_writer.wasm?url";

/** The modules of a text's QR code, one string a row, `1` dark, no quiet zone; error correction L: a screen wears off nothing. */
export async function codeRows(text: string): Promise<readonly string[]> {
  prepareZXingModule({
    overrides: { locateFile: (path: string, prefix: string) => (path.endsWith(".wasm") ? wasmUrl : prefix + path) },
    fireImmediately: false,
  });
  const { symbol, error } = await writeBarcode(text, { format: "QRCode", ecLevel: "L" });
  if (error !== "") throw new Error(error);
  const { data, width, height } = symbol;
  return Array.from({ length: height }, (_, y) => Array.from(data.subarray(y * width, (y + 1) * width), (value) => (value < 128 ? "1" : "0")).join(""));
}
