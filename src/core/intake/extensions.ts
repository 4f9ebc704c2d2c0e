/** File extensions by what they hold, lower-case. Facts of the trade: common practice, no source, unless one is named. */

/** Moving picture in one file, camera originals first. */
export const PICTURE = words(
  'mov mp4 m4v mxf mts m2ts m2t avi mkv webm dv dif r3d braw arx crm rmf insv 360 mpg mpeg 3gp wmv mod tod gxf',
);

/** One frame of moving picture per file when numbered (core/intake/sequence.ts); otherwise a still. */
export const FRAME = words('dpx exr cin ari dng tif tiff jpg jpeg png');

/** Of those, made for moving picture: never a camera still. SMPTE ST 268-1 (dpx), its predecessor (cin), OpenEXR, raw frames. */
export const CINEMA_FRAME = words('dpx exr cin ari');

export const SOUND = words('wav wave bwf rf64 w64 aif aiff aifc flac mp3 m4a aac ogg opus caf wma ac3 eac3');

export const STILL = words(
  'jpg jpeg heic heif cr2 cr3 crw nef nrw arw srf sr2 raf rw2 orf pef dng raw 3fr iiq tif tiff gpr',
);

export const GRAPHICS = words('png psd psb ai svg eps gif bmp tga webp jp2 hdr');

/** Timelines, edit lists and interchange: small, made by hand, worth a copy. */
export const PROJECT_FILE = words('prproj aep drp avp avb veg edl aaf otio otioz fcpxml fcpxmld omf');

/** What lies beside a clip and describes it: metadata, thumbnails, indexes, looks, subtitles, checksums. */
export const SIDECAR = words(
  'xml xmp bim smi cpi mpl clpi mpls bdm bdmv thm idx ppn klv rmd rtn ale srt vtt sub cdl cc ccc cube 3dl amf mhl md5 ' +
    'sha1 sha256 xxh64 xxh3 gpx',
);

/** Small pictures that cameras record beside the clip. */
export const PROXY = words('lrv lrf');

export const CACHE = words('pek cfa ims mcdb mcdx pkf pk sfk');

function words(text: string): ReadonlySet<string> {
  return new Set(text.split(' '));
}
