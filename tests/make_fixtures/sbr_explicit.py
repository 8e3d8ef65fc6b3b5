"""Rewrites an .m4a whose HE-AAC is signalled implicitly so that it is signalled explicitly and hierarchically.

The AudioSpecificConfig (ISO/IEC 14496-3, 1.6.2.1) of two bytes becomes one of four: object type 5, core rate,
channels, doubled rate, object type 2. Needs the index (moov) behind the sound, as ffmpeg writes it by default.
Run: sbr_explicit.py IN OUT
"""

import struct
import sys

CONTAINERS = (b"moov", b"trak", b"mdia", b"minf", b"stbl", b"stsd", b"mp4a", b"esds")
RATES = [96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000]


def explicit(config):
    value = int.from_bytes(config[:2], "big")
    core, channels = value >> 7 & 15, value >> 3 & 15
    doubled = RATES.index(RATES[core] * 2)
    bits = f"{5:05b}{core:04b}{channels:04b}{doubled:04b}{2:05b}{0:03b}"
    return int(bits.ljust(32, "0"), 2).to_bytes(4, "big")


def main(source, target):
    data = bytearray(open(source, "rb").read())
    assert data.index(b"mdat") < data.index(b"moov"), "the index stands before the sound"
    at = data.index(b"esds")
    tag = at + 8 + data[at + 8 :].index(b"\x05\x80\x80\x80")
    length = data[tag + 4]
    config = explicit(data[tag + 5 : tag + 5 + length])
    grown = len(config) - length
    for name, skip in ((b"\x03\x80\x80\x80", 0), (b"\x04\x80\x80\x80", 0)):
        data[data.index(name, at) + 4 + skip] += grown
    data[tag + 4] = len(config)
    data[tag + 5 : tag + 5 + length] = config
    for name in CONTAINERS:
        start = data.index(name, data.index(b"moov")) - 4
        struct.pack_into(">I", data, start, struct.unpack_from(">I", data, start)[0] + grown)
    open(target, "wb").write(data)


main(*sys.argv[1:])
