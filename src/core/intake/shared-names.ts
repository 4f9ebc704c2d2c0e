/** First-level folders that serve all projects of a volume: caches, renders, things that can be made again. Common practice, no source. */
const SHARED = new Set(
  (
    'cache|caches|render|renders|proxy|proxies|scratch|preview|previews|audio previews|video previews|' +
    'autosave|autosaves|auto-save|auto-saves|auto save|temp|tmp|thumbnails|waveforms|peak files'
  ).split('|'),
);

/** `Media Cache`, `render_cache`, `Cache Files`: a cache by its last word. */
const CACHE = /(?:^|[\s._-])caches?(?:[\s._-]files)?$/;

/** Whether a folder directly below the root is shared by all projects. Without case. */
export function isSharedName(name: string): boolean {
  return SHARED.has(name.toLowerCase()) || isCacheName(name);
}

/** Whether a folder's name says that everything in it is a cache. Without case. */
export function isCacheName(name: string): boolean {
  return CACHE.test(name.toLowerCase());
}
