/**
 * Reads any code a scanner, a camera or a person gives: one text in, what it says out.
 * Pure, linear in the length of the text, and never throws. Twin: `backend/loupebook/rules/codes.py`;
 * both follow `shared/vectors/codes.json`.
 */
import { GS, readElements, readHuman, readLink, startsLikeElements, startsLikeHuman, startsWithAi, take } from "./codes-gs1";
import { readHibc } from "./codes-hibc";
import { readOwn } from "./codes-own";
import type { Code, Form, Issuer, Own } from "./codes-shape";
import { Found, trimEnd } from "./codes-shape";

export { compareSerials, keyOf, mmsKey } from "./codes-keys";
export type { Comparison, Difference } from "./codes-keys";
export { COMMANDS } from "./codes-shape";
export type { Check, Code, Command, Form, Issuer, Note, NoteCode, Own, Split } from "./codes-shape";

/** Characters that are read; no identifier comes near. */
const LONGEST = 4096;

/** Data Matrix, Code 128, QR and DataBar whose first sign says "GS1" (ISO/IEC 15424). */
const GS1_SYMBOLS: readonly (string | undefined)[] = ["]d2", "]C1", "]Q3", "]e0"];

const BEYOND = /[\u{10000}-\u{10ffff}]|[\ud800-\udfff]/gu;
const WRITTEN_GS = /<GS>|\{GS\}|<FNC1>|\{FNC1\}|\\u001d|\\x1d|\^\]|\u241d/gi;
const ICCBBA = /^(?:=[/,<>%(){};]|=[A-Z0-9][0-9]{12}|&,1)/;
const BLANKS_BEFORE = /^[ \t\r\n]+/;

const ISSUERS: Readonly<Partial<Record<Form, Issuer>>> = {
  gs1: "GS1", gs1_human: "GS1", gs1_link: "GS1", hibc: "HIBCC", iccbba: "ICCBBA",
};

/**
 * What `text` says. Never throws.
 *
 * `symbology` is the AIM identifier (`]d2`) when a decoder gave the bytes, null when a keyboard
 * reader or a person typed them, or by a decoder that does not say (""). `todayYear` places two-digit years.
 */
export function readCode(text: string, symbology: string | null, todayYear: number): Code {
  const found = new Found(todayYear);
  const kept = text.length > LONGEST ? Array.from(text).slice(0, LONGEST).join("") : text;
  if (kept !== text) found.note("text_cut");
  let flat = trimEnd(kept.replace(BEYOND, "\ufffd").replace(BLANKS_BEFORE, ""), "\t\r\n");
  const exact = symbology !== null && symbology !== "";
  let sign = exact ? symbology : undefined;
  if (/^\][A-Za-z][0-9A-Za-z]/.test(flat)) {
    sign ??= flat.slice(0, 3);
    flat = flat.slice(3);
    found.note("symbology_stripped");
  }
  const label = readOwn(trimEnd(flat, " \t\r\n"), found);
  const form = label?.form ?? readBody(flat, sign, exact, found);
  return finish({ form, check: found.check, notes: found.notes, text: kept }, sign, label?.own, found);
}

function readBody(whole: string, sign: string | undefined, exact: boolean, found: Found): Form {
  const saysGs1 = GS1_SYMBOLS.includes(sign);
  if (!saysGs1 && readHibc(whole, found)) return "hibc";
  const text = trimEnd(whole, " \t\r\n");
  if (!saysGs1 && ICCBBA.test(text)) {
    found.note("iccbba_not_supported");
    return "iccbba";
  }
  if (readLink(text, found)) return "gs1_link";
  if (startsLikeHuman(text)) {
    if (sign !== undefined) found.note("human_form_in_code");
    readHuman(text, found);
    return "gs1_human";
  }
  return readElementsOrPlain(text, sign, exact, found);
}

function readElementsOrPlain(text: string, sign: string | undefined, exact: boolean, found: Found): Form {
  const clear = text.replace(WRITTEN_GS, GS);
  const separated = clear.includes(GS) && (clear.startsWith(GS) || startsWithAi(clear));
  if (GS1_SYMBOLS.includes(sign) || separated || startsLikeElements(clear)) {
    if (clear !== text) found.note("gs_replaced");
    readElements(clear, found, exact);
    return "gs1";
  }
  if (sign === "]E0" && /^[0-9]{13}$/.test(text)) {
    take("01", `0${text}`, found);
    return "gs1";
  }
  return "plain";
}

/** Join what was gathered; a DI without a serial is remarked last. */
function finish(start: Code, sign: string | undefined, own: Own | undefined, found: Found): Code {
  if (found.fields.di !== undefined && found.fields.serial === undefined) found.note("no_serial");
  const issuer = ISSUERS[start.form];
  return {
    ...start,
    ...found.fields,
    ...(issuer === undefined ? {} : { issuer }),
    ...(own === undefined ? {} : { own }),
    ...(sign === undefined ? {} : { symbology: sign }),
  };
}
