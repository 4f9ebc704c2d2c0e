import { messageOf } from '../../core/fault.ts';
import { display } from '../../core/present/escape.ts';

const UNKNOWN_AUTHORITY =
  'Its certificate is of an authority that is not known here; name the file of its certificates with ca_file.';

const SELF_SIGNED =
  'Its certificate is self-signed: nobody else vouches for it. If it is the right one, name its file with ca_file.';

/** Codes of node's network and TLS errors. */
const WORDS: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'Nothing listens at its address (connection refused).',
  ECONNRESET: 'It ended the connection without an answer.',
  EPIPE: 'It ended the connection without an answer.',
  EHOSTUNREACH: 'Its machine cannot be reached.',
  ENETUNREACH: 'Its network cannot be reached.',
  ENOTFOUND: 'Its name is not known (DNS).',
  EAI_AGAIN: 'Its name could not be asked for just now (DNS).',
  ETIMEDOUT: 'It did not answer in time.',
  CERT_HAS_EXPIRED: 'Its certificate has expired.',
  CERT_NOT_YET_VALID: 'Its certificate is not valid yet; check the clocks of both machines.',
  ERR_TLS_CERT_ALTNAME_INVALID: 'Its certificate is for another name than the one in the address.',
  DEPTH_ZERO_SELF_SIGNED_CERT: SELF_SIGNED,
  SELF_SIGNED_CERT_IN_CHAIN: UNKNOWN_AUTHORITY,
  UNABLE_TO_VERIFY_LEAF_SIGNATURE: UNKNOWN_AUTHORITY,
  UNABLE_TO_GET_ISSUER_CERT: UNKNOWN_AUTHORITY,
  UNABLE_TO_GET_ISSUER_CERT_LOCALLY: UNKNOWN_AUTHORITY,
  CERT_REVOKED: 'Its certificate was revoked.',
};

/** Why nothing came of it, for a person. The address is not told: it may hold a secret. */
export function whyUnsent(error: unknown): string {
  const { name, code } = Object(error) as { name?: unknown; code?: unknown };
  if (name === 'TimeoutError' || messageOf(error) === 'no connection in time') return 'It did not answer in time.';
  const words = typeof code === 'string' ? WORDS[code] : undefined;
  if (words !== undefined) return `${words} (${String(code)})`;
  if (typeof code === 'string' && /^(ERR_SSL|EPROTO)/.test(code))
    return `What answers there speaks no TLS as we do (${code}).`;
  return `The connection failed (${typeof code === 'string' ? display(code) : 'no code'}).`;
}
