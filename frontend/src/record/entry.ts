/** The shapes every writer and reader of an entry shares. Field meanings: backend/loupebook/record/kinds.py. */

/** Lower-case hex of a SHA-256: names an entry, a photo, a chain, a catalogue, a policy. */
export type Sha256 = string;

export type Shows = "serial" | "part" | "finding" | "leak_test" | "case" | "other";
export type PhotoType = "image/jpeg" | "image/png" | "image/webp";

/** How the person was proved. `named` = chosen from the list, not proved. A ticket only when online. */
export interface Proof {
  readonly how: "pin" | "badge" | "sso" | "named";
  readonly where: "online" | "offline";
  readonly ticket?: string;
}

/** Who writes: always handed in by the screen, so that a save never lands under another's session. */
export interface By {
  readonly person: string;
  readonly proof: Proof;
}

/** What the entry is about. `inspection` is the hash of this chain's own `inspection.begun`. */
export interface About {
  readonly scope?: string;
  readonly inspection?: Sha256;
  readonly repair?: Sha256;
  readonly shift?: string;
  readonly tool?: string;
}

/** A photo as an entry names it. */
export interface PhotoName {
  readonly sha256: Sha256;
  readonly bytes: number;
  readonly type: PhotoType;
  readonly width: number;
  readonly height: number;
  readonly shows: Shows;
}

/** What the station knew of its clock: ahead of the server by `ahead_ms`, last asked at `checked_at`. */
export interface Clock {
  readonly ahead_ms: number;
  readonly checked_at: string;
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
}

/** What a screen hands to `append`. `draft` names a draft that the same transaction removes. */
export interface NewEntry {
  readonly kind: string;
  readonly by: By;
  readonly about: About;
  readonly body: object;
  readonly photos?: readonly NewPhoto[];
  readonly basis?: Sha256;
  readonly draft?: string;
}

/** An entry that is durable on this tablet, photo bytes read back and hashed again. */
export interface Saved {
  readonly hash: Sha256;
  readonly chain: Sha256;
  readonly seq: number;
  readonly at: string;
  readonly photos: readonly Sha256[];
}
