/** record/ keeps what was seen: `append` is the only way to write; the store, the chain, the sender and the drafts live here. */
export type {
  About, By, Clock, Entry, NewEntry, NewEntryOf, NewPhoto, PhotoName, PhotoType, Proof, Saved, Sha256, Shows,
  StationBodies, StationKind,
} from "./entry";
export {
  BadEntry, NoRoom, NotEnrolled, PhotoDamaged, PlainTab, RecordTrouble, Refused, StoreUnusable, type StoreProblem,
} from "./trouble";
export { type Readable, Told } from "./readable";
export { configureRecord, type RecordSetting } from "./setting";
export { hashPhoto, sha256Hex } from "./hash";
export { append } from "./append";
export { hiddenPhotos } from "./hidden";
export { type Draft, type DraftPhoto, drafts, forgetDraft, keepDraft, readDraft } from "./drafts";
export {
  entryByHash, inspectionState, type InspectionState, lastEntries, partsOfScope,
  photoBytes, type RecordedEntry,
} from "./state";
export { type OpenPart, openParts } from "./open";
export { isStoreUsable, status, type Stopped, type Status, refreshStatus } from "./status";
export type { Lost, SaidEntry } from "./said";
export { selfCheck, type SelfCheck } from "./self-check";
export { sendNow, startSender } from "./sender";
export { exportUnsent } from "./unsent";
export { type Stuck, stuckItems } from "./stuck";
export { pinned } from "./pins";
export { NoAnswer, ServerTrouble, type TroubleWords } from "./wire";
export { type ChangedThing, onChange } from "./changed";
