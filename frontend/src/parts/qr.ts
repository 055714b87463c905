/** A QR code from the server's modules, as one path. */

/** Modules of white that stand around a code on every side (ISO/IEC 18004). */
export const QUIET = 4;

/** The dark modules as squares of one unit, moved in by the quiet zone; `rows` as the server gives them, `1` dark. */
export function qrPath(rows: readonly string[]): string {
  return darkPath(rows, QUIET);
}

/** The dark modules of any code of squares, moved in by `quiet` modules. */
export function darkPath(rows: readonly string[], quiet: number): string {
  return rows
    .flatMap((row, y) => [...row.matchAll(/1+/g)].map((run) => `M${run.index + quiet} ${y + quiet}h${run[0].length}v1h-${run[0].length}z`))
    .join("");
}

/** The side of the whole picture in modules, quiet zone and all. */
export function qrSide(rows: readonly string[]): number {
  return rows.length + 2 * QUIET;
}
