//! Encodes raw 16-bit little-endian mono samples at 44,100 Hz (standard input) as High Efficiency AAC in ADTS
//! (standard output). ADTS has no word for the doubled rate, so its header names the 22,050 Hz core.

use std::io::{Read, Write};
use std::os::raw::c_void;
use std::ptr::null_mut;

use fdk_aac_sys::*;

const RATE_HZ: u32 = 44_100;
const BITS_PER_SECOND: u32 = 32_000;
/// Audio object type 5 is spectral band replication over AAC-LC (ISO/IEC 14496-3, table 1.17).
const AOT_SBR: u32 = 5;
const TRANSPORT_ADTS: u32 = 2;

fn main() {
    let mut bytes = Vec::new();
    std::io::stdin()
        .read_to_end(&mut bytes)
        .expect("standard input can be read");
    let mut samples: Vec<i16> = bytes
        .chunks_exact(2)
        .map(|b| i16::from_le_bytes([b[0], b[1]]))
        .collect();
    let encoder = open();
    let mut info: AACENC_InfoStruct = unsafe { std::mem::zeroed() };
    check(unsafe { aacEncInfo(encoder, &mut info) });
    let frame = info.frameLength as usize;
    // Two frames of silence push the last sound out of the encoder.
    samples.resize(samples.len().next_multiple_of(frame) + 2 * frame, 0);
    let mut out = std::io::stdout().lock();
    for block in samples.chunks_exact_mut(frame) {
        out.write_all(&encode(encoder, block))
            .expect("standard output can be written");
    }
}

fn open() -> HANDLE_AACENCODER {
    let mut encoder: HANDLE_AACENCODER = null_mut();
    check(unsafe { aacEncOpen(&mut encoder, 0, 1) });
    for (what, value) in [
        (AACENC_PARAM_AACENC_AOT, AOT_SBR),
        (AACENC_PARAM_AACENC_SAMPLERATE, RATE_HZ),
        (AACENC_PARAM_AACENC_CHANNELMODE, 1),
        (AACENC_PARAM_AACENC_BITRATE, BITS_PER_SECOND),
        (AACENC_PARAM_AACENC_TRANSMUX, TRANSPORT_ADTS),
    ] {
        check(unsafe { aacEncoder_SetParam(encoder, what, value) });
    }
    check(unsafe {
        aacEncEncode(
            encoder,
            std::ptr::null(),
            std::ptr::null(),
            std::ptr::null(),
            null_mut(),
        )
    });
    encoder
}

fn encode(encoder: HANDLE_AACENCODER, block: &mut [i16]) -> Vec<u8> {
    let mut packet = vec![0u8; 8192];
    let mut source = block.as_mut_ptr() as *mut c_void;
    let mut target = packet.as_mut_ptr() as *mut c_void;
    let (mut source_id, mut source_size, mut source_element) = (
        AACENC_BufferIdentifier_IN_AUDIO_DATA as i32,
        (block.len() * 2) as i32,
        2,
    );
    let (mut target_id, mut target_size, mut target_element) = (
        AACENC_BufferIdentifier_OUT_BITSTREAM_DATA as i32,
        packet.len() as i32,
        1,
    );
    let describe =
        |data: &mut *mut c_void, id: &mut i32, size: &mut i32, element: &mut i32| AACENC_BufDesc {
            numBufs: 1,
            bufs: data,
            bufferIdentifiers: id,
            bufSizes: size,
            bufElSizes: element,
        };
    let source = describe(
        &mut source,
        &mut source_id,
        &mut source_size,
        &mut source_element,
    );
    let target = describe(
        &mut target,
        &mut target_id,
        &mut target_size,
        &mut target_element,
    );
    let given = AACENC_InArgs {
        numInSamples: block.len() as i32,
        numAncBytes: 0,
    };
    let mut taken: AACENC_OutArgs = unsafe { std::mem::zeroed() };
    check(unsafe { aacEncEncode(encoder, &source, &target, &given, &mut taken) });
    packet.truncate(taken.numOutBytes as usize);
    packet
}

fn check(status: AACENC_ERROR) {
    assert_eq!(status, AACENC_ERROR_AACENC_OK, "the encoder refused");
}
