/**
 * Sizes as whole micrometres, whether a borescope goes into a channel, pressures as whole pascals.
 * ISO 8600-4: one French unit is a third of a millimetre of outer diameter. Decimals never touch a float.
 */

/** The text is no size: digits, at most three decimals, nothing else; or not above 0. */
export class NotASize extends Error {
  override readonly name = "NotASize";
}

/** Micrometres of a size in millimetres, given as text: "2.8" -> 2800. Raises NotASize. */
export function umOfMm(text: string): number {
  return thousandths(text);
}

/** Micrometres of a size in French: "3.6" -> 1200. Rounded to the nearest whole micrometre. Raises NotASize. */
export function umOfFr(text: string): number {
  return Math.floor((thousandths(text) + 1) / 3);
}

/** A size in millimetres as text, without trailing zeros: 2800 -> "2.8", 5000 -> "5". */
export function mmOfUm(um: number): string {
  return shown(um);
}

/** A size in French as text: 2800 -> "8.4". */
export function frOfUm(um: number): string {
  return shown(um * 3);
}

function thousandths(text: string): number {
  const match = /^([0-9]{1,6})(?:\.([0-9]{1,3}))?$/.exec(text);
  if (match === null) throw new NotASize(text);
  return Number(match[1]) * 1000 + Number((match[2] ?? "").padEnd(3, "0"));
}

function shown(um: number): string {
  const rest = String(um % 1000).padStart(3, "0").replace(/0+$/, "");
  const whole = Math.floor(um / 1000);
  return rest === "" ? String(whole) : `${whole}.${rest}`;
}

/** A unit of a leak tester by its UCUM name: micropascals of one, decimals shown, and how people write it. NIST SP 811, appendix B.8 (from memory): mmHg and psi. */
const PRESSURES = {
  kPa: { each: 1_000_000_000, decimals: 3, shown: "kPa" },
  mbar: { each: 100_000_000, decimals: 0, shown: "mbar" },
  "mm[Hg]": { each: 133_322_387, decimals: 0, shown: "mmHg" },
  "[psi]": { each: 6_894_757_293, decimals: 2, shown: "psi" },
} as const;
export type PressureUnit = keyof typeof PRESSURES;
export const PRESSURE_UNITS = Object.keys(PRESSURES) as readonly PressureUnit[];
export const pressureUnit = (unit: PressureUnit): string => PRESSURES[unit].shown;

/** Pascals, to the nearest, of a pressure given as text in a leak tester's unit; at most 1,000. Raises NotASize. */
export function paOf(text: string, unit: string): number {
  const many = thousandths(text);
  if (!Object.hasOwn(PRESSURES, unit) || many <= 0 || many > 1_000_000) throw new NotASize(`${text} ${unit}`);
  return Math.floor((many * PRESSURES[unit as PressureUnit].each + 500_000_000) / 1_000_000_000);
}

/** A pressure with its unit, in the one it was read in: 21332, "mm[Hg]" -> "160 mmHg"; kPa where none is known. */
export function pressureText(pa: number, unit: string | null | undefined): string {
  const { each, decimals, shown: name } = PRESSURES[Object.hasOwn(PRESSURES, unit ?? "") ? (unit as PressureUnit) : "kPa"];
  const steps = Math.floor((pa * 1_000_000 * 10 ** decimals + Math.floor(each / 2)) / each);
  return `${shown(steps * 10 ** (3 - decimals))} ${name}`;
}

/** Whether a borescope goes into a channel, and the share of its width it fills: thousandths, rounded half up. */
export interface Fit {
  readonly fits: boolean;
  readonly fillsPermille: number;
}

/** Outer diameter of a borescope against the inner diameter of a channel; equal does not go. Both above 0. */
export function fit(borescopeUm: number, channelUm: number): Fit {
  if (borescopeUm <= 0 || channelUm <= 0) throw new NotASize("a size is above 0");
  return { fits: borescopeUm < channelUm, fillsPermille: Math.floor((2000 * borescopeUm + channelUm) / (2 * channelUm)) };
}
