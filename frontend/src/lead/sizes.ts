/** A scope's own sizes as they are typed, and as the record keeps them. Pure. */
import { say } from "../parts/words";
import { NotASize, umOfMm, mmOfUm } from "../rules/units";
import type { ChannelSize, Instructions, ScopeWhole } from "./answers";

export type Reach = "borescope" | "flow" | "none";

/** One channel as it stands in its fields; texts as typed. `reach` "" leaves the catalogue's word. */
export interface ChannelFields {
  readonly channel: string;
  readonly inner: string;
  readonly length: string;
  readonly reach: Reach | "";
}

export interface SizeFields {
  readonly tag: string;
  readonly maker: string;
  readonly model: string;
  readonly serialWhere: string;
  readonly tube: string;
  readonly tubeOuter: string;
  readonly noneHere: readonly string[];
  readonly channels: readonly ChannelFields[];
  readonly title: string;
  readonly edition: string;
  readonly dated: string;
}

/** Sizes beyond these are no flexible endoscope's: a wrong unit, or a slip. Common practice, no source. */
const INNER_UM = [200, 10_000] as const;
const OUTER_UM = [1_000, 25_000] as const;
const LENGTH_MM = [100, 6_000] as const;

/** What is on record of a scope, as fields; one row for each channel of its kind. */
export function fieldsOf(scope: ScopeWhole, channels: readonly string[]): SizeFields {
  const known = new Map(scope.channels.map((each) => [each.channel, each]));
  return {
    tag: scope.tag ?? "", maker: scope.maker ?? "", model: scope.model ?? "", serialWhere: scope.serial_where ?? "",
    tube: scope.tube_mm === null ? "" : String(scope.tube_mm), tubeOuter: scope.tube_um == null ? "" : mmOfUm(scope.tube_um), noneHere: scope.none_here,
    channels: channels.map((channel) => {
      const size = known.get(channel);
      return {
        channel, inner: size?.inner_um === undefined ? "" : mmOfUm(size.inner_um), length: size?.length_mm === undefined ? "" : String(size.length_mm), reach: size?.reach ?? "",
      };
    }),
    title: scope.instructions?.title ?? "", edition: scope.instructions?.edition ?? "", dated: scope.instructions?.dated ?? "",
  };
}

/** Micrometres of an inner diameter in mm, comma or point; undefined for nothing typed, null for what is none. */
export const innerUm = (text: string): number | undefined | null => umWithin(text, INNER_UM);
/** The same of the insertion tube's outer diameter. */
export const outerUm = (text: string): number | undefined | null => umWithin(text, OUTER_UM);

function umWithin(text: string, [least, most]: readonly [number, number]): number | undefined | null {
  if (text.trim() === "") return undefined;
  try {
    const um = umOfMm(text.trim().replace(",", "."));
    return um >= least && um <= most ? um : null;
  } catch (cause) {
    if (cause instanceof NotASize) return null;
    throw cause;
  }
}

/** Whole millimetres of a length; undefined for nothing typed, null for what is none. */
export function lengthMm(text: string): number | undefined | null {
  if (text.trim() === "") return undefined;
  const mm = /^\d{1,5}$/.test(text.trim()) ? Number(text.trim()) : Number.NaN;
  return mm >= LENGTH_MM[0] && mm <= LENGTH_MM[1] ? mm : null;
}

/** Whether any size stands in the fields: then its source is asked for. */
const hasSizes = (fields: SizeFields): boolean =>
  fields.tube.trim() !== "" || fields.tubeOuter.trim() !== "" || fields.noneHere.length > 0 || fields.channels.some(({ inner, length, reach }) => inner.trim() !== "" || length.trim() !== "" || reach !== "");

/** Nothing, or a day of the calendar as ISO 8601 writes it. */
const isDay = (text: string): boolean => text === "" || (/^\d{4}-\d{2}-\d{2}$/.test(text) && new Date(`${text}T00:00:00Z`).toJSON()?.slice(0, 10) === text);

/** Why the fields cannot be written yet; undefined when they can. */
export function waitSizes(fields: SizeFields): string | undefined {
  if (lengthMm(fields.tube) === null || fields.channels.some(({ length }) => lengthMm(length) === null)) return say("sizes.wait_length");
  if (fields.channels.some(({ inner }) => innerUm(inner) === null)) return say("sizes.wait_inner");
  if (outerUm(fields.tubeOuter) === null) return say("sizes.wait_outer");
  if (!isDay(fields.dated.trim())) return say("sizes.wait_dated");
  return hasSizes(fields) && fields.title.trim() === "" ? say("sizes.wait_source") : undefined;
}

/** The body of the description that says so. What the fields do not hold (codes, DI, serial) stays as it is on record. */
export function bodyOf(scope: ScopeWhole, fields: SizeFields): Readonly<Record<string, unknown>> {
  const instructions: Instructions | undefined = fields.title.trim() === "" ? undefined : {
    title: fields.title.trim(), ...given("edition", fields.edition.trim()), ...given("dated", fields.dated.trim()),
  };
  const [tube, outer] = [lengthMm(fields.tube), outerUm(fields.tubeOuter)];
  return {
    scope_kind: scope.kind, serial: scope.serial, ...given("di", scope.di ?? ""), ...given("maker", fields.maker.trim()), ...given("model", fields.model.trim()),
    ...given("tag", fields.tag.trim()), codes: scope.codes.filter((code) => code !== scope.tag && code !== fields.tag.trim()),
    none_here: fields.noneHere, ...(typeof tube === "number" ? { tube_mm: tube } : {}), ...(typeof outer === "number" ? { tube_um: outer } : {}), ...given("serial_where", fields.serialWhere.trim()),
    channels: fields.channels.filter(({ channel }) => !fields.noneHere.includes(channel)).flatMap(channelOf), ...(instructions === undefined ? {} : { instructions }),
  };
}

function channelOf({ channel, inner, length, reach }: ChannelFields): readonly ChannelSize[] {
  const [um, mm] = [innerUm(inner), lengthMm(length)];
  const size = {
    channel, ...(typeof um === "number" ? { inner_um: um } : {}), ...(typeof mm === "number" ? { length_mm: mm } : {}), ...(reach === "" ? {} : { reach }),
  };
  return Object.keys(size).length > 1 ? [size] : [];
}

const given = (name: string, text: string): Readonly<Record<string, string>> => (text === "" ? {} : { [name]: text });
