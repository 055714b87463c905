/** Wall clock of this tablet as RFC 3339 with milliseconds and its offset, "2026-11-25T10:22:43.123+01:00". */
export function moment(date: Date): string {
  const ahead = -date.getTimezoneOffset();
  const shifted = new Date(date.getTime() + ahead * 60_000).toISOString().slice(0, -1);
  const sign = ahead < 0 ? "-" : "+";
  const minutes = Math.abs(ahead);
  const two = (n: number): string => String(n).padStart(2, "0");
  return `${shifted}${sign}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
}
