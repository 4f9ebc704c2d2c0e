import { memfs } from 'memfs';
import type { RunCommand } from '../../../src/rim/drives/block-node.ts';
import type { SysFs } from '../../../src/rim/drives/sys.ts';

/*
 * Trees of /sys as the kernel lays them out: Documentation/admin-guide/md.rst, Documentation/ABI/stable/sysfs-block,
 * Documentation/ABI/testing/{sysfs-block-dm,sysfs-fs-btrfs,sysfs-bus-pci,sysfs-ata}, Documentation/ABI/stable/sysfs-bus-usb.
 */

export interface Tree {
  files: Record<string, string>;
  links: [from: string, to: string][];
}

const SATA = '/sys/devices/pci0000:00/0000:00:17.0';
const NVME = '/sys/devices/pci0000:00/0000:00:1d.0/0000:3d:00.0/nvme/nvme0';
const USB = '/sys/devices/pci0000:00/0000:00:14.0/usb2/2-1';

/** A block device in its folder, with the links by which it is found. */
function block(tree: Tree, folder: string, number: string, files: Record<string, string> = {}): void {
  const name = folder.split('/').at(-1) ?? '';
  Object.assign(tree.files, { [`${folder}/dev`]: number, [`${folder}/size`]: '7814037168' });
  for (const [file, text] of Object.entries(files)) tree.files[`${folder}/${file}`] = text;
  tree.links.push([`/sys/dev/block/${number}`, folder], [`/sys/class/block/${name}`, folder]);
}

/** A SATA drive at its own port, with one partition. */
export function sataDrive(tree: Tree, letter: string, over: Record<string, string> = {}, speed = '6.0 Gbps'): void {
  const port = letter.charCodeAt(0) - 96;
  const number = `8:${(port - 1) * 16}`;
  const folder = `${SATA}/ata${port}/host${port}/target${port}:0:0/${port}:0:0:0/block/sd${letter}`;
  block(tree, folder, number, {
    'queue/rotational': '1',
    'device/model': 'DISK 4TB',
    'device/ioerr_cnt': '0x3',
    ...over,
  });
  block(tree, `${folder}/sd${letter}1`, `8:${(port - 1) * 16 + 1}`, { partition: '1' });
  tree.files[`/sys/class/ata_link/link${port}/sata_spd`] = speed;
  tree.files[`/run/udev/data/b${number}`] = `S:disk/by-id/x\nE:ID_MODEL=DISK_4TB_R\nE:ID_SERIAL_SHORT=S000${port}\n`;
}

export function nvmeDrive(tree: Tree): void {
  const pci = '/sys/devices/pci0000:00/0000:00:1d.0/0000:3d:00.0';
  block(tree, `${NVME}/nvme0n1`, '259:0', {
    'queue/rotational': '0',
    'device/model': 'FLASH 2TB',
    'device/serial': 'N1',
  });
  Object.assign(tree.files, { [`${pci}/current_link_speed`]: '16.0 GT/s PCIe', [`${pci}/current_link_width`]: '4' });
}

export function usbDrive(tree: Tree, speed: string): void {
  tree.files[`${USB}/speed`] = speed;
  block(tree, `${USB}/2-1:1.0/host6/target6:0:0/6:0:0:0/block/sdx`, '65:112', { 'queue/rotational': '0' });
}

export function mdArray(tree: Tree, letters: string, files: Record<string, string>): void {
  const folder = '/sys/devices/virtual/block/md0';
  const md = Object.fromEntries(Object.entries(files).map(([name, text]) => [`md/${name}`, text]));
  block(tree, folder, '9:0', md);
  for (const letter of letters) tree.links.push([`${folder}/slaves/sd${letter}1`, `/sys/class/block/sd${letter}1`]);
}

export function mapped(tree: Tree, name: string, number: string, uuid: string, members: readonly string[]): void {
  const folder = `/sys/devices/virtual/block/dm-${number.split(':')[1]}`;
  block(tree, folder, number, { 'dm/name': name, 'dm/uuid': uuid });
  for (const member of members) tree.links.push([`${folder}/slaves/${member}`, `/sys/class/block/${member}`]);
}

export const emptyTree = (): Tree => ({ files: {}, links: [] });

export function asSys({ files, links }: Tree): SysFs {
  const { vol, fs } = memfs(files);
  for (const [from, to] of new Map(links)) {
    vol.mkdirSync(from.split('/').slice(0, -1).join('/'), { recursive: true });
    vol.symlinkSync(to, from);
  }
  return fs as unknown as SysFs;
}

/** Answers of commands by their first words; all others are not there. */
export function commands(answers: Record<string, string>): RunCommand {
  return async (command, args) => answers[[command, ...args].join(' ')] ?? null;
}

export const onDevice = (device: string, fileSystem = 'ext4') => {
  return { device, fileSystem, source: `/dev/x`, remote: false };
};
