/** cards/ keeps what a tablet knows of scopes, people and policy without a network, and who is signed in. */
export type {
  CardsAt, ChannelCard, HoldCard, OpenCard, OpenPartCard, PartCard, PersonCard, Role, ScopeCard, SignedIn, StationCard, ToolCard,
} from "./rows";
export { cardsAt } from "./at";
export { fetchCards, startCards } from "./fetch";
export { type Candidate, facilityNow, type FacilityCard, findScope, holdsOf, openOf, openToGoOn, people, scopeByKey, scopesByName, scopesNear, stations } from "./look";
export { catalogueNow, frequencyNow, pinnedCatalogue, pinnedPolicy, policyNow, type Pinned } from "./pinned";
export { enrol, enrolFirst, type FirstWords } from "./enrol";
export { type Enrolled, thisStation } from "./station";
export { by, goOnByName, isProved, lock, session, type Session, startSession, switchTo, touch } from "./session";
export { setPinByCode, signIn, signOut } from "./sign-in";
export { NoPinCheck, PinStopped, WrongPin } from "./trouble";
export { lastHere, withLast } from "./last";
export { keepLocalScope } from "./local";
export { type Example, examplesOf, fetchThen, knownWear, lastPhotoOf, lastSerialPhoto, type LastPhoto, type LastSerial, type ThenPhoto, thenPhotosOf } from "./then";
export { keepTool, keepToolProcessed, keepToolUse, type Tool, toolOf, toolsKnown } from "./tools";
