/** Why a manifest cannot be used. The message is the detail of the outcome: what is wrong, and where. */
export class ManifestError extends Error {
  readonly reason: 'not-a-manifest' | 'damaged' | 'too-large';

  constructor(reason: ManifestError['reason'], message: string) {
    super(message);
    this.name = 'ManifestError';
    this.reason = reason;
  }
}
