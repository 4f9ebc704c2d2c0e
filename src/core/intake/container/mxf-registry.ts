/*
 * Classes and properties of MXF header metadata (SMPTE ST 377-1, annexes A to F; index tables: clause 11). Labels are those of
 * the SMPTE metadata dictionary (RP 210, ST 335), bytes 8 to 15: the first eight tell the register and its version.
 */

/** Byte 14 of a set's key. */
export const setClass = {
  sequence: 0x0f,
  sourceClip: 0x11,
  timecode: 0x14,
  essenceData: 0x23,
  tape: 0x2e,
  preface: 0x2f,
  materialPackage: 0x36,
  sourcePackage: 0x37,
  multipleDescriptor: 0x44,
} as const;

/** Tags from here on mean what the file's primer says. */
export const DYNAMIC_FROM = 0x8000;

/** Static local tags. */
export const property = {
  instance: 0x3c0a,
  operationalPattern: 0x3b09,
  linkedPackage: 0x2701,
  bodyId: 0x3f07,
  packageId: 0x4401,
  packageName: 0x4402,
  packageTracks: 0x4403,
  packageCreated: 0x4405,
  packageDescriptor: 0x4701,
  trackId: 0x4801,
  trackSegment: 0x4803,
  trackNumber: 0x4804,
  trackEditRate: 0x4b01,
  trackOrigin: 0x4b02,
  duration: 0x0202,
  components: 0x1001,
  clipStart: 0x1201,
  clipPackage: 0x1101,
  clipTrack: 0x1102,
  timecodeStart: 0x1501,
  timecodeBase: 0x1502,
  timecodeDrop: 0x1503,
  subDescriptors: 0x3f01,
  linkedTrack: 0x3006,
  sampleRate: 0x3001,
  containerDuration: 0x3002,
  essenceContainer: 0x3004,
  pictureCoding: 0x3201,
  storedHeight: 0x3202,
  storedWidth: 0x3203,
  sampledHeight: 0x3204,
  sampledWidth: 0x3205,
  displayHeight: 0x3208,
  displayWidth: 0x3209,
  frameLayout: 0x320c,
  aspectRatio: 0x320e,
  componentDepth: 0x3301,
  horizontalSubsampling: 0x3302,
  verticalSubsampling: 0x3308,
  pixelLayout: 0x3401,
  quantizationBits: 0x3d01,
  audioSamplingRate: 0x3d03,
  soundCompression: 0x3d06,
  channelCount: 0x3d07,
  blockAlign: 0x3d0a,
} as const;

/** Labels (bytes 8 to 15) of the properties that a writer may give a tag of its own: those of essence descriptors. */
export const LABELS: ReadonlyMap<string, number> = new Map([
  ['0601010305000000', property.linkedTrack],
  ['0406010100000000', property.sampleRate],
  ['0406010200000000', property.containerDuration],
  ['0601010401020000', property.essenceContainer],
  ['0401060100000000', property.pictureCoding],
  ['0401050201000000', property.storedHeight],
  ['0401050202000000', property.storedWidth],
  ['0401050107000000', property.sampledHeight],
  ['0401050108000000', property.sampledWidth],
  ['040105010b000000', property.displayHeight],
  ['040105010c000000', property.displayWidth],
  ['0401030104000000', property.frameLayout],
  ['0401010101000000', property.aspectRatio],
  ['040105030a000000', property.componentDepth],
  ['0401050105000000', property.horizontalSubsampling],
  ['0401050110000000', property.verticalSubsampling],
  ['0402030304000000', property.quantizationBits],
  ['0402030101010000', property.audioSamplingRate],
  ['0402040200000000', property.soundCompression],
  ['0402010104000000', property.channelCount],
  ['0402030201000000', property.blockAlign],
]);
