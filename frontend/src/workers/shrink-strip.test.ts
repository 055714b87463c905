import { expect, test } from "vitest";
import { NotAJpeg, withoutMetadata } from "./shrink-strip";

/** A segment: marker, length (with its own two bytes), body. */
function segment(marker: number, body: string): number[] {
  const bytes = [...body].map((sign) => sign.charCodeAt(0));
  return [0xff, marker, (bytes.length + 2) >> 8, (bytes.length + 2) & 255, ...bytes];
}

const JFIF = segment(0xe0, "JFIF\0\x01\x01\0\0\x01\0\x01\0\0");
const TABLES = segment(0xdb, "\0quantisation");
const FRAME = segment(0xc0, "frame");
const PICTURE = [...segment(0xda, "scan"), 1, 2, 0xff, 0, 3, 0xff, 0xd0, 4];
const END = [0xff, 0xd9];

const jpeg = (...parts: number[][]): Uint8Array => Uint8Array.from([0xff, 0xd8, ...parts.flat()]);
const PLAIN = jpeg(JFIF, TABLES, FRAME, PICTURE, END);

test("a JPEG without metadata comes out as it went in", () => {
  expect(withoutMetadata(PLAIN)).toEqual(PLAIN);
});

test.each([
  ["EXIF", segment(0xe1, "Exif\0\0MM place and device")],
  ["XMP", segment(0xe1, "http://ns.adobe.com/xap/1.0/\0<x/>")],
  ["a colour profile", segment(0xe2, "ICC_PROFILE\0\x01\x01")],
  ["a preview of more pictures", segment(0xe2, "MPF\0II")],
  ["IPTC", segment(0xed, "Photoshop 3.0\0")],
  ["a thumbnail beside JFIF", segment(0xe0, "JFXX\0\x10")],
  ["a maker's segment", segment(0xe5, "anything")],
  ["a comment", segment(0xfe, "Tobin Sarr")],
])("%s is taken out, wherever it stands", (_, added) => {
  expect(withoutMetadata(jpeg(added, JFIF, TABLES, added, FRAME, added, PICTURE, END))).toEqual(PLAIN);
});

test("Adobe's colour transform stays, since a decoder needs it", () => {
  const coloured = jpeg(JFIF, segment(0xee, "Adobe\0d"), FRAME, PICTURE, END);
  expect(withoutMetadata(coloured)).toEqual(coloured);
});

test("what hangs behind the picture is cut off", () => {
  const trailing = [...PLAIN, ...new TextEncoder().encode("<script>")];
  expect(withoutMetadata(Uint8Array.from(trailing))).toEqual(PLAIN);
});

test.each([
  ["nothing", []],
  ["a PNG", [0x89, 0x50, 0x4e, 0x47]],
  ["a start alone", [0xff, 0xd8]],
  ["a segment longer than the file", [0xff, 0xd8, 0xff, 0xe1, 0xff, 0xff, 1, 2, 3]],
  ["a segment shorter than its own length", [0xff, 0xd8, 0xff, 0xe1, 0, 1, 0xff, 0xda]],
  ["no end", [0xff, 0xd8, ...JFIF, ...PICTURE]],
])("%s is refused", (_, bytes) => {
  expect(() => withoutMetadata(Uint8Array.from(bytes))).toThrow(NotAJpeg);
});
