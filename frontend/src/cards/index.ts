/** cards/ keeps what a tablet knows of scopes, people and policy without a network, and who is signed in. */
export type {
  CardsAt, HoldCard, LastLook, OpenCard, PersonCard, Role, ScopeCard, SignedIn, StationCard,
} from "./rows";
export { cardsAt, fetchCards, startCards } from "./fetch";
export { type Candidate, findScope, holdsOf, openOf, people, scopeByKey, scopesByName, stations } from "./look";
export { lastPhotoOf, type LastPhoto, smallPhoto } from "./photo";
export { catalogueNow, frequencyNow, type Frequency, pinnedCatalogue, pinnedPolicy, policyNow, type Pinned } from "./pinned";
export { enrol, enrolFirst, type Enrolled, type FirstWords, thisStation } from "./enrol";
export { by, goOnByName, lock, session, type Session, signIn, signOut, startSession, switchTo, touch } from "./session";
export { NoPinCheck, PinStopped, WrongPin } from "./trouble";
