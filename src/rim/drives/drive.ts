import { posix } from 'node:path';
import { linkOf } from '../../core/assess/link-rates.ts';
import type { Drive, DriveHeat } from '../../core/assess/storage-stack.ts';
import { behind, names, number, type SysFs, text } from './sys.ts';

/** Sectors in /sys are of 512 bytes, whatever the drive's own are (Documentation/ABI/stable/sysfs-block). */
const SECTOR = 512;

/** Reads a whole drive from its folder in /sys/devices. What udev knows of it (udev(7): /run/udev/data) names it best. */
export function readDrive(fs: SysFs, folder: string): Drive {
  const name = posix.basename(folder);
  const udev = udevOf(fs, text(fs, `${folder}/dev`));
  const sectors = number(fs, `${folder}/size`);
  const rotational = number(fs, `${folder}/queue/rotational`);
  const transport = transportOf(fs, folder, name);
  return {
    name,
    model: udev('ID_MODEL')?.replaceAll('_', ' ') ?? text(fs, `${folder}/device/model`),
    serial: udev('ID_SERIAL_SHORT') ?? text(fs, `${folder}/device/serial`),
    bytes: sectors === null ? null : sectors * SECTOR,
    // What a virtual drive lies on is not told by what it says of itself.
    rotational: rotational === null || transport === 'virtual' ? null : rotational === 1,
    transport,
    link: linkOfDrive(fs, folder, transport),
  };
}

function udevOf(fs: SysFs, device: string | null): (key: string) => string | null {
  const data = device === null ? null : text(fs, `/run/udev/data/b${device}`);
  return (key) => new RegExp(`^E:${key}=(.+)$`, 'm').exec(data ?? '')?.[1] ?? null;
}

function transportOf(fs: SysFs, folder: string, name: string): Drive['transport'] {
  if (/\/usb\d+\//.test(folder)) return 'usb';
  if (/^nvme/.test(name)) return 'nvme';
  if (/\/ata\d+\//.test(folder)) return 'sata';
  if (/\/end_device-/.test(folder)) return 'sas';
  const isVirtual = /\/(virtual|virtio\d+)\//.test(folder) || /^(loop|vd|xvd|zram|nbd)/.test(name);
  return isVirtual || text(fs, `${folder}/loop/backing_file`) !== null ? 'virtual' : null;
}

function linkOfDrive(fs: SysFs, folder: string, transport: Drive['transport']): Drive['link'] {
  if (transport === 'nvme') return pciLink(fs, folder);
  if (transport === 'sata') return sataLink(fs, folder);
  return transport === 'usb' ? usbLink(fs, folder) : null;
}

/**
 * Documentation/hwmon/sysfs-interface.rst: temp1_input and temp1_max in thousandths of a degree. NVMe drives have them beside the
 * namespace, SATA drives below the device (Documentation/hwmon/drivetemp.rst).
 */
export function readHeat(fs: SysFs, folder: string): DriveHeat[] {
  const above = posix.dirname(folder);
  const sensors = [
    ...names(fs, above)
      .filter((name) => /^hwmon\d+$/.test(name))
      .map((name) => `${above}/${name}`),
    ...names(fs, `${folder}/device/hwmon`).map((name) => `${folder}/device/hwmon/${name}`),
  ];
  return sensors.flatMap((sensor) => {
    const [now, most] = [number(fs, `${sensor}/temp1_input`), number(fs, `${sensor}/temp1_max`)];
    if (now === null || most === null || most <= 0) return [];
    return [{ name: posix.basename(folder), celsius: Math.round(now / 1000), limit: Math.round(most / 1000) }];
  });
}

/** GT/s of a lane, and the generation of PCI Express that has it (PCI Express Base Specification). */
const PCI_GENERATIONS: Readonly<Record<string, number>> = {
  '2.5': 1,
  '5.0': 2,
  '5': 2,
  '8.0': 3,
  '16.0': 4,
  '32.0': 5,
};

/** Documentation/ABI/testing/sysfs-bus-pci: current_link_speed "8.0 GT/s PCIe", current_link_width "4"; `removable` of what can be pulled. */
function pciLink(fs: SysFs, folder: string): Drive['link'] {
  const device = pciFolder(folder);
  if (device === null) return null;
  const speed = /^([\d.]+) GT\/s/.exec(text(fs, `${device}/current_link_speed`) ?? '')?.[1];
  const width = number(fs, `${device}/current_link_width`);
  const generation = speed === undefined ? undefined : PCI_GENERATIONS[speed];
  if (generation === undefined || width === null) return null;
  const four = linkOf(`pcie-${generation}-x4`);
  const name = `pcie-${generation}-x${width}`;
  return { name, bps: four === null ? null : (four.bps * width) / 4 };
}

/** The last PCI function on the way to the drive. */
function pciFolder(folder: string): string | null {
  const parts = folder.split('/');
  const last = parts.findLastIndex((part) => /^[0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]$/.test(part));
  return last < 0 ? null : parts.slice(0, last + 1).join('/');
}

/** Documentation/ABI/testing/sysfs-ata: link<port>/sata_spd, "6.0 Gbps". */
function sataLink(fs: SysFs, folder: string): Drive['link'] {
  const port = /\/ata(\d+)\//.exec(folder)?.[1];
  const speed = Number(/^([\d.]+) Gbps/.exec(text(fs, `/sys/class/ata_link/link${port}/sata_spd`) ?? '')?.[1]);
  const fastest = linkOf('sata');
  if (Number.isNaN(speed) || fastest === null) return null;
  return speed >= 6
    ? { name: 'sata', bps: fastest.bps }
    : { name: `sata at ${speed} Gb/s`, bps: (fastest.bps * speed) / 6 };
}

/** Documentation/ABI/stable/sysfs-bus-usb: `speed` of the device in Mb/s; the drive's own is the nearest above it. */
function usbLink(fs: SysFs, folder: string): Drive['link'] {
  for (let at = folder; at.length > '/sys/devices'.length; at = posix.dirname(at)) {
    const speed = number(fs, `${at}/speed`);
    if (speed === null) continue;
    const name = { 5000: 'usb-5g', 10000: 'usb-10g', 20000: 'usb-20g' }[speed];
    if (name !== undefined) return { name, bps: linkOf(name)?.bps ?? null };
    // Of older ones some two thirds of the signalling rate arrive (from memory).
    return { name: `usb at ${speed} Mb/s`, bps: (speed * 1e6 * 0.66) / 8 };
  }
  return null;
}

/** Folder in /sys/devices of a device by `major:minor`, or of a kernel name; `null`: there is none. */
export function deviceFolder(fs: SysFs, device: string): string | null {
  const path = device.includes(':') ? `/sys/dev/block/${device}` : `/sys/class/block/${device}`;
  const folder = behind(fs, path);
  return names(fs, folder).length === 0 ? null : folder;
}
