/** Closed set of why a file was not copied or not read. Also log field. */
export type CopyFailure =
  | 'shelf-gone' // not mounted, or another one in its place
  | 'shelf-full'
  | 'shelf-read-only'
  | 'shelf-damaged' // it answers with errors
  | 'outside-shelf' // the target's folder leads elsewhere
  | 'name-refused' // this shelf cannot keep the name as it is
  | 'target-exists' // something else lies there
  | 'too-large' // for one file of this file system
  | 'not-permitted'
  | 'source-missing'
  | 'source-unreadable' // the working volume answers with errors
  | 'no-resources' // memory or open files of this machine
  | 'no-answer' // a call hangs
  | 'process-ended'
  | 'failed'; // none of these

/** What was done when it failed. */
export type CopyStep = 'read-source' | 'write-copy' | 'flush' | 'read-back' | 'publish' | 'look';

const ANYWHERE: Readonly<Record<string, CopyFailure>> = {
  ENOSPC: 'shelf-full',
  EDQUOT: 'shelf-full',
  EROFS: 'shelf-read-only',
  ENAMETOOLONG: 'name-refused',
  EILSEQ: 'name-refused',
  EFBIG: 'too-large',
  EMFILE: 'no-resources',
  ENFILE: 'no-resources',
  ENOMEM: 'no-resources',
  EACCES: 'not-permitted',
  EPERM: 'not-permitted',
};

const DRIVE_GONE: ReadonlySet<string> = new Set(['ENODEV', 'ENXIO', 'ENOTCONN', 'ESHUTDOWN', 'ESTALE']);
const DAMAGED: ReadonlySet<string> = new Set(['EIO', 'EUCLEAN', 'EBADMSG', 'EREMOTEIO', 'ETIMEDOUT', 'EHOSTDOWN']);
const MISSING: ReadonlySet<string> = new Set(['ENOENT', 'ENOTDIR', 'ELOOP', 'ESTALE']);

/** The reason behind a system's code (errno(3)), by where it came up. */
export function failureOf(code: string | null, step: CopyStep): CopyFailure {
  if (code === null) return 'failed';
  const anywhere = ANYWHERE[code];
  if (anywhere !== undefined) return anywhere;
  if (step === 'read-source') {
    if (MISSING.has(code)) return 'source-missing';
    return DAMAGED.has(code) || DRIVE_GONE.has(code) ? 'source-unreadable' : 'failed';
  }
  if (code === 'EEXIST') return 'target-exists';
  if (DRIVE_GONE.has(code)) return 'shelf-gone';
  return DAMAGED.has(code) ? 'shelf-damaged' : 'failed';
}

const WORDS: Readonly<Record<CopyFailure, readonly [message: string, advice: string]>> = {
  'shelf-gone': ['the shelf is not where it was', 'mount it again; what is not copied yet is copied then'],
  'shelf-full': ['the shelf has no room for it', 'make room on the shelf, or use a larger one'],
  'shelf-read-only': [
    'the shelf cannot be written',
    'mount it for writing; a drive with errors is often set to read-only',
  ],
  'shelf-damaged': ['the shelf answered with an error', 'check its cable and the drive before you trust what is on it'],
  'outside-shelf': ['its folder on the shelf leads elsewhere', 'take away the link or mount that stands in its place'],
  'name-refused': [
    'the shelf cannot keep this name as it is',
    'use a shelf with another file system, or give the file a name that it can keep',
  ],
  'target-exists': [
    'something else lies on the shelf under this name',
    'look at it and move it aside; it is never overwritten',
  ],
  'too-large': ["it is larger than the shelf's file system can keep", 'use a shelf with another file system'],
  'not-permitted': [
    'it is not permitted',
    'give the user that headroomd runs as the right to read the file and to write the shelf',
  ],
  'source-missing': [
    'the file is not there any more',
    'nothing needs to be done if it was moved or deleted on purpose',
  ],
  'source-unreadable': [
    'the file cannot be read',
    'check the working volume: a copy from the card may be the only whole one',
  ],
  'no-resources': [
    'this machine has no memory or open files left for it',
    'it is tried again; close what uses them if it stays so',
  ],
  'no-answer': ['a drive gives no answer', 'check the drive and its cable; the copy is tried again'],
  'process-ended': ['the process that copies ended', 'it is tried again; the log tells more'],
  failed: ['it failed', 'the log tells more; it is tried again'],
};

/** What happened and what to do, in words that name no file. */
export function failureWords(reason: CopyFailure, detail: string | null): { message: string; advice: string } {
  const [message, advice] = WORDS[reason];
  return { message: detail === null ? message : `${message} (${detail})`, advice };
}
