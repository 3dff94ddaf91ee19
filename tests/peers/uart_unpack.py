"""Takes the kernel itself out of Debian's packed image, so that the guest need not unpack it at every start.
usage: uart_unpack.py VMLINUZ OUT. Offsets: the kernel's Documentation/x86/boot.rst, header fields setup_sects,
payload_offset and payload_length."""
import lzma
import struct
import sys
import zlib

with open(sys.argv[1], 'rb') as f:
    image = f.read()
sectors = image[0x1f1] or 4
offset, length = struct.unpack_from('<II', image, 0x248)
packed = image[(sectors + 1) * 512 + offset:][:length]
if packed[:6] == b'\xfd7zXZ\0':
    kernel = lzma.LZMADecompressor().decompress(packed)
elif packed[:2] == b'\x1f\x8b':
    kernel = zlib.decompressobj(31).decompress(packed)
else:
    sys.exit('the kernel is packed in a way that is not known here: ' + packed[:6].hex())
if kernel[:4] != b'\x7fELF':
    sys.exit('no kernel in the image')
with open(sys.argv[2], 'wb') as f:
    f.write(kernel)
