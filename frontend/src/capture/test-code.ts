/**
 * The code a reader is tested with: a GS1 Data Matrix whose signs part the usual faults from one another. Its letters
 * change places between keyboard layouts, its lot stands before a separator, and it has capitals and small letters.
 */

/** The DI is the public sample of HL7's and FDA's UDI examples; lot and serial are made for this test. */
export const TEST_DI = "51022222233336";
export const TEST_LOT = "Zy-Aq_7";
export const TEST_SERIAL = "LB/wM5";

/** What a reader should send after its AIM identifier `]d2`; \x1d is the separator GS. */
export const TEST_TEXT = `01${TEST_DI}10${TEST_LOT}\x1d21${TEST_SERIAL}`;

/** Its modules as zint wrote them, one string a row, `1` dark, without a quiet zone. */
export const TEST_ROWS: readonly string[] = [
  "1010101010101010101010",
  "1101010000001011000111",
  "1000101001010101010000",
  "1011011011101000001001",
  "1110000111000000010000",
  "1001101010111000101111",
  "1000001111000101010100",
  "1111001110110101000111",
  "1010011000001011111100",
  "1101000101111001011001",
  "1100011111111111100110",
  "1110001011101101100101",
  "1001101101111101110000",
  "1100010000101110001011",
  "1001100011000000010110",
  "1100000111010000110101",
  "1001101100111110010100",
  "1011101000101110011011",
  "1001010111101010110000",
  "1110001100101100110011",
  "1011111110100000000100",
  "1111111111111111111111",
];
