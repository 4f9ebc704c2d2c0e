/** The system says that a name is not there, or that something above it is no folder. */
export function isMissing(error: NodeJS.ErrnoException): boolean {
  return error.code === 'ENOENT' || error.code === 'ENOTDIR';
}
