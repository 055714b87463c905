/** The shapes every writer and reader of an entry shares. Field meanings: backend/loupebook/record/kinds.py. */

import type { About, Clock, Photo, Proof, Sha256, Shows, StationBodies, StationKind, Taken } from "./kinds";

export type { About, Clock, Proof, Sha256, Shows, StationBodies, StationKind } from "./kinds";
/** A photo as an entry names it. */
export type PhotoName = Photo;
export type PhotoType = Photo["type"];

/** Who writes: always handed in by the screen, so that a save never lands under another's session. */
export interface By {
  readonly person: string;
  readonly proof: Proof;
}

/** One entry as read from its line. */
export interface Entry {
  readonly v: 1;
  readonly chain: Sha256;
  readonly seq: number;
  readonly prev: Sha256;
  readonly kind: string;
  readonly at: string;
  readonly clock: Clock | null;
  readonly person: string;
  readonly proof: Proof;
  readonly build: string;
  readonly about: About;
  readonly basis?: Sha256;
  readonly body: Readonly<Record<string, unknown>>;
  readonly photos: readonly PhotoName[];
}

/** A photo to be saved: bytes as they will be sent, their hash known beforehand (`hashPhoto`). */
export interface NewPhoto {
  readonly sha256: Sha256;
  readonly bytes: ArrayBuffer;
  readonly type: PhotoType;
  readonly width: number;
  readonly height: number;
  readonly shows: Shows;
  readonly taken?: Taken;
}

/** What a screen hands to `append`, of one kind. `draft` names a draft that the same transaction removes. */
export interface NewEntryOf<K extends StationKind> {
  readonly kind: K;
  readonly by: By;
  readonly about: About;
  readonly body: StationBodies[K];
  readonly photos?: readonly NewPhoto[];
  readonly basis?: Sha256;
  readonly draft?: string;
}

/** A new entry of any kind a station writes. */
export type NewEntry = { readonly [K in StationKind]: NewEntryOf<K> }[StationKind];

/** An entry that is durable on this tablet, photo bytes read back and hashed again. */
export interface Saved {
  readonly hash: Sha256;
  readonly chain: Sha256;
  readonly seq: number;
  readonly at: string;
  readonly photos: readonly Sha256[];
}
