/**
 * Published sizes of frames, bytes. Each was also measured: encoded with Debian's ffmpeg 5.1.9, packets read with ffprobe.
 * A table that gives DNxHR in "MB/s" means MiB/s (UHD HQX at 25: 86.82 MiB/s = 91.03 MB/s); sizes are bytes here.
 */
export interface Published {
  name: string;
  /** Codec as facts name it. */
  codec: string;
  width: number;
  height: number;
  rate: { num: number; den: number };
  frameBytes: number;
  source: string;
  /** Arguments of ffmpeg between input and file. */
  encode: readonly string[];
  /** Files it is written to, by extension. */
  containers: readonly string[];
}

const VC3 = 'SMPTE ST 2019-1 (VC-3), compression-ID table, as in FFmpeg 5.1.9 libavcodec/dnxhddata.c';
const VC3_RI = 'SMPTE ST 2019-1 (VC-3), resolution-independent CIDs; formula as in FFmpeg 5.1.9 libavcodec/dnxhddata.c';
const DV25 = 'IEC 61834 and SMPTE ST 314, as in FFmpeg 5.1.9 libavcodec/dv_profile.c';
const DV50 = 'SMPTE ST 314, as in FFmpeg 5.1.9 libavcodec/dv_profile.c';
const DV100 = 'SMPTE ST 370, as in FFmpeg 5.1.9 libavcodec/dv_profile.c';
const V210 = 'stride ceil(width/48) x 128 bytes, as in FFmpeg 5.1.9 libavcodec/v210enc.c';
const D10 = 'SMPTE ST 356';

const r25 = { num: 25, den: 1 };
const r2997 = { num: 30000, den: 1001 };
const r23976 = { num: 24000, den: 1001 };

const dnxhd = (rate: string, ...more: string[]) => ['-c:v', 'dnxhd', '-b:v', rate, '-pix_fmt', 'yuv422p', ...more];
const dnxhr = (profile: string, pixels: string) => [
  '-c:v',
  'dnxhd',
  '-profile:v',
  `dnxhr_${profile}`,
  '-pix_fmt',
  pixels,
];
const dv = (pixels: string) => ['-c:v', 'dvvideo', '-pix_fmt', pixels];
function d10(rate: string): string[] {
  const constant = `-b:v ${rate} -minrate ${rate} -maxrate ${rate} -bufsize 2000000 -rc_init_occupancy 2000000`;
  const intra = '-g 1 -flags:v +bitexact+ildct+low_delay -top 1 -intra_vlc 1 -non_linear_quant 1 -dc 10 -qmax 12';
  return `-c:v mpeg2video -pix_fmt yuv422p ${constant} ${intra} -f mxf_d10`.split(' ');
}

type Row = [
  ...[name: string, codec: string, width: number, height: number, rate: Published['rate'], frameBytes: number],
  ...[source: string, encode: readonly string[], containers: readonly string[]],
];

const rows: readonly Row[] = [
  ['DNxHD CID 1237', 'DNxHD', 1920, 1080, r25, 606_208, VC3, dnxhd('120M'), ['mov', 'mxf']],
  ['DNxHD CID 1237', 'DNxHD', 1920, 1080, r2997, 606_208, VC3, dnxhd('145M'), ['mov', 'mxf']],
  [
    'DNxHD CID 1242 (interlaced)',
    'DNxHD',
    1920,
    1080,
    r25,
    606_208,
    VC3,
    dnxhd('120M', '-flags:v', '+bitexact+ildct'),
    ['mov', 'mxf'],
  ],
  ['DNxHD CID 1252', 'DNxHD', 1280, 720, r25, 303_104, VC3, dnxhd('60M'), ['mov', 'mxf']],
  ['DNxHR SQ UHD', 'DNxHR SQ', 3840, 2160, r25, 2_408_448, VC3_RI, dnxhr('sq', 'yuv422p'), ['mov', 'mxf']],
  ['DNxHR HQX UHD', 'DNxHR HQX', 3840, 2160, r25, 3_641_344, VC3_RI, dnxhr('hqx', 'yuv422p10le'), ['mov', 'mxf']],
  ['DNxHR 444', 'DNxHR 444', 1920, 1080, r23976, 1_835_008, VC3_RI, dnxhr('444', 'yuv444p10le'), ['mov', 'mxf']],
  ['DNxHR LB', 'DNxHR LB', 1280, 720, r2997, 81_920, VC3_RI, dnxhr('lb', 'yuv422p'), ['mov', 'mxf']],
  ['DV25 625/50', 'DV', 720, 576, r25, 144_000, DV25, dv('yuv420p'), ['dv', 'mov', 'avi', 'mxf']],
  ['DV25 525/60', 'DV', 720, 480, r2997, 120_000, DV25, dv('yuv411p'), ['dv', 'mov', 'avi', 'mxf']],
  ['DV50 625/50', 'DV', 720, 576, r25, 288_000, DV50, dv('yuv422p'), ['mov', 'mxf']],
  ['DV100 1080i50', 'DV', 1440, 1080, r25, 576_000, DV100, dv('yuv422p'), ['mov', 'mxf']],
  ['DV100 1080i60', 'DV', 1280, 1080, r2997, 480_000, DV100, dv('yuv422p'), ['mov', 'mxf']],
  ['v210 (lines padded)', 'v210', 1280, 720, r25, 2_488_320, V210, ['-c:v', 'v210'], ['mov', 'avi']],
  ['v210 (no padding)', 'v210', 1920, 1080, r25, 5_529_600, V210, ['-c:v', 'v210'], ['mov', 'avi']],
  ['D-10 50 Mb/s 625/50', 'MPEG-2', 720, 608, r25, 250_000, D10, d10('50M'), ['mxf']],
  ['D-10 30 Mb/s 525/60', 'MPEG-2', 720, 512, r2997, 125_125, D10, d10('30M'), ['mxf']],
];

export const published: readonly Published[] = rows.map(
  ([name, codec, width, height, rate, frameBytes, source, encode, containers]) => {
    return { name, codec, width, height, rate, frameBytes, source, encode, containers };
  },
);

/** DPX, RGB 10 bit, filled (method A): 4 bytes a pixel behind the header (SMPTE ST 268); ffmpeg writes a header of 1664 bytes. */
export const dpxFrame = { width: 1920, height: 1080, imageBytes: 8_294_400, headerBytes: 1_664 };

/**
 * "25 Mb/s" DV is 28.8 Mb/s on disk: 144,000 bytes x 25 x 8 (IEC 61834). One prober says 25.0, another 24.44.
 */
export const dvStoredBitrate = 28_800_000;
