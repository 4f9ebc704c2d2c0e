import { createHash } from 'node:crypto';
import { brotliCompressSync, gzipSync } from 'node:zlib';
import type { FastifyReply, FastifyRequest } from 'fastify';

/** A file of the page, packed once. */
export interface Asset {
  type: string;
  plain: Buffer;
  gzip: Buffer;
  brotli: Buffer;
  tag: string;
}

export function createAsset(content: Buffer, type: string): Asset {
  return {
    type,
    plain: content,
    gzip: gzipSync(content),
    brotli: brotliCompressSync(content),
    tag: `"${createHash('sha256').update(content).digest('base64url').slice(0, 22)}"`,
  };
}

/** A browser that has it asks whether it is still the one: after an update of headroomd it is another. */
export function sendAsset(request: FastifyRequest, reply: FastifyReply, asset: Asset): FastifyReply {
  reply
    .header('content-type', asset.type)
    .header('cache-control', 'no-cache')
    .header('etag', asset.tag)
    .header('vary', 'accept-encoding')
    .header('x-content-type-options', 'nosniff');
  if (request.headers['if-none-match'] === asset.tag) return reply.code(304).send();
  const accepted = request.headers['accept-encoding'] ?? '';
  if (/\bbr\b/.test(accepted)) return reply.header('content-encoding', 'br').send(asset.brotli);
  if (/\bgzip\b/.test(accepted)) return reply.header('content-encoding', 'gzip').send(asset.gzip);
  return reply.send(asset.plain);
}
