#!/bin/sh
# Makes fixtures/formats anew: one invented tone in every format that is read, and in some that are not.
# Needs ffmpeg 5 or later with its usual encoders, python3, and for the two HE-AAC files the program in he_aac/
# (built with `cargo build`), whose path is the second argument. Run: formats.sh OUTPUT_FOLDER [HE_AAC_PROGRAM]
set -eu
out=$1
he_aac=${2:-}
here=$(dirname "$0")
mkdir -p "$out"

# Partials 1 to 3 of 440 Hz (the A of ISO 16), 1.2 seconds, peak below 0.7 of full scale.
tone='0.4*sin(2*PI*440*t)+0.2*sin(2*PI*880*t+1)+0.1*sin(2*PI*1320*t+2)'
ff() { ffmpeg -hide_banner -loglevel error -y -bitexact "$@"; }

# make FILE RATE OPTIONS…: the tone at that rate, mono, encoded by these options.
make() {
  file=$1; rate=$2; shift 2
  ff -f lavfi -i "aevalsrc='$tone':s=$rate:d=1.2" -map_metadata -1 -fflags +bitexact -flags:a +bitexact "$@" "$out/$file"
}
# Channels: the tone on both of two, in opposite phase, on one alone, and spread over six and eight.
stereo='-af pan=stereo|c0=c0|c1=0.8*c0'
opposite='-af pan=stereo|c0=c0|c1=-1*c0'
onesided='-af pan=stereo|c0=c0|c1=0*c0'
six='-af pan=5.1|c0=0.5*c0|c1=0.4*c0|c2=0.9*c0|c3=0*c0|c4=0.2*c0|c5=-0.3*c0'
eight='-af pan=7.1|c0=0.5*c0|c1=0.4*c0|c2=0.9*c0|c3=0*c0|c4=0.2*c0|c5=-0.3*c0|c6=0.1*c0|c7=0.1*c0'

# Uncompressed, each sample format.
make wav-u8.wav 22050 -c:a pcm_u8
make wav-s16.wav 22050 -c:a pcm_s16le
make wav-s24.wav 22050 -c:a pcm_s24le
make wav-s32.wav 11025 -c:a pcm_s32le
make wav-f32.wav 22050 -c:a pcm_f32le
make wav-f64.wav 11025 -c:a pcm_f64le
make wav-mulaw.wav 22050 -c:a pcm_mulaw
make wav-adpcm.wav 22050 -c:a adpcm_ima_wav
make wav-8khz.wav 8000 -c:a pcm_s16le
make wav-192khz.wav 192000 -c:a pcm_u8
make wav-stereo.wav 22050 $stereo -c:a pcm_s16le
make wav-onesided.wav 22050 $onesided -c:a pcm_s16le
make wav-opposite.wav 22050 $opposite -c:a pcm_s16le
make wav-51.wav 8000 $six -c:a pcm_s16le
make aiff-s16.aiff 22050 -c:a pcm_s16be
make aiff-s24.aif 22050 -c:a pcm_s24be
make aifc-f32.aifc 22050 -c:a pcm_f32be -f aiff
make pcm.mov 22050 -c:a pcm_s16be
make caf-s24.caf 22050 -c:a pcm_s24be
# Compressed without loss.
make caf-alac.caf 44100 -c:a alac
make alac.m4a 44100 -c:a alac
make flac-s16.flac 44100 -c:a flac -sample_fmt s16
make flac-s24-96khz.flac 96000 -c:a flac -sample_fmt s32
make flac-192khz.flac 192000 -c:a flac -sample_fmt s16
make flac-51.flac 44100 $six -c:a flac -sample_fmt s16
make flac-71.flac 22050 $eight -c:a flac -sample_fmt s16
make flac.oga 44100 -c:a flac -sample_fmt s16 -f ogg
make flac.mka 44100 -c:a flac -sample_fmt s16
# Compressed with loss.
make mp3-cbr.mp3 44100 -c:a libmp3lame -b:a 96k
make mp3-vbr-stereo.mp3 44100 $stereo -c:a libmp3lame -q:a 6
make mp3-no-header.mp3 44100 -c:a libmp3lame -b:a 64k -write_xing 0 -id3v2_version 0
make mp2.mp2 44100 -c:a mp2 -b:a 64k
make vorbis.ogg 44100 -c:a libvorbis -q:a 2 -serial_offset 1
make vorbis-stereo.ogg 44100 $stereo -c:a libvorbis -q:a 2 -serial_offset 2
make vorbis-22khz.ogg 22050 -c:a libvorbis -q:a 2 -serial_offset 3
make vorbis-51.ogg 44100 $six -c:a libvorbis -q:a 1
make opus.opus 48000 -c:a libopus -b:a 32k -serial_offset 1
make opus-voice.ogg 16000 -c:a libopus -b:a 16k -application voip -serial_offset 2
make opus-stereo.ogg 48000 $stereo -c:a libopus -b:a 48k -serial_offset 3
make opus-51.opus 48000 $six -c:a libopus -b:a 160k -mapping_family 1
make opus-71.opus 48000 $eight -c:a libopus -b:a 200k -mapping_family 1
make opus.webm 48000 -c:a libopus -b:a 32k
make opus-live.webm 48000 -c:a libopus -b:a 32k -live 1
make opus.mp4 48000 -c:a libopus -b:a 32k -strict -2
make opus.caf 48000 -c:a libopus -b:a 32k
make aac.m4a 44100 -c:a aac -b:a 64k
make aac-faststart-stereo.m4a 44100 $stereo -c:a aac -b:a 64k -movflags +faststart
make aac-fragmented.mp4 44100 -c:a aac -b:a 64k -movflags +frag_keyframe+empty_moov+default_base_moof
make aac.aac 44100 -c:a aac -b:a 64k
make aac.3gp 44100 -c:a aac -b:a 64k -f 3gp
# With moving pictures, which are to be ignored.
picture='color=c=gray:s=32x32:r=5:d=1.2'
ff -f lavfi -i "$picture" -f lavfi -i "aevalsrc='$tone':s=44100:d=1.2" -c:v libx264 -c:a aac -b:a 64k -fflags +bitexact "$out/video-aac.mp4"
ff -f lavfi -i "$picture" -f lavfi -i "aevalsrc='$tone':s=44100:d=1.2" -c:v libx264 -c:a aac -b:a 64k -fflags +bitexact "$out/video-aac.mov"
ff -f lavfi -i "$picture" -f lavfi -i "aevalsrc='$tone':s=48000:d=1.2" -c:v libvpx -c:a libopus -b:a 32k -fflags +bitexact "$out/video-opus.webm"
ff -f lavfi -i "$picture" -f lavfi -i "aevalsrc='$tone':s=48000:d=1.2" -map 0 -map 1 -map 1 -c:v libx264 \
   -c:a:0 ac3 -c:a:1 aac -b:a 64k -disposition:a:0 default -fflags +bitexact "$out/video-ac3-aac.mkv"

# High Efficiency AAC: the rate signalled implicitly (a core of half the rate, nothing said) and explicitly.
if [ -n "$he_aac" ]; then
  ff -f lavfi -i "aevalsrc='$tone':s=44100:d=1.2" -f s16le -c:a pcm_s16le - | "$he_aac" > "$out/he-aac.aac"
  ff -i "$out/he-aac.aac" -c copy "$out/he-aac-implicit.m4a"
  python3 "$here/sbr_explicit.py" "$out/he-aac-implicit.m4a" "$out/he-aac-explicit.m4a"
fi

# Streams joined end to end: alike, another count of channels, another rate.
cat "$out/vorbis.ogg" "$out/vorbis-22khz.ogg" > "$out/chained-rate.ogg"
cat "$out/vorbis.ogg" "$out/vorbis-stereo.ogg" > "$out/chained.ogg"
cat "$out/opus.opus" "$out/opus-stereo.ogg" > "$out/chained.opus"

# Cut off in the middle of the sound.
cut() { head -c $(( $(wc -c < "$out/$1") * $3 / 100 )) "$out/$1" > "$out/$2"; }
cut wav-s16.wav cut.wav 60
cut flac-s16.flac cut.flac 60
cut mp3-cbr.mp3 cut.mp3 60
cut opus.webm cut.webm 60
cut aac-faststart-stereo.m4a cut.m4a 60
cut aac-fragmented.mp4 cut-fragmented.mp4 60
cut aac.m4a cut-no-index.m4a 60
# An Ogg page of this tone holds a second, so the cut ones have pages of a fifth of a second; more than half of the
# Vorbis file is its code books.
make paged.ogg 44100 -c:a libvorbis -q:a 2 -page_duration 200000
make paged.opus 48000 -c:a libopus -b:a 32k -page_duration 200000
cut paged.ogg cut.ogg 85
cut paged.opus cut.opus 60
rm "$out/paged.ogg" "$out/paged.opus"

# What is not read, or is no sound.
make no-ac3.ac3 44100 -c:a ac3 -b:a 64k
make no-ac3.mp4 44100 -c:a ac3 -b:a 64k
make no-aac-51.m4a 44100 $six -c:a aac -b:a 128k
make no-dts.mka 44100 $stereo -c:a dca -strict -2 -b:a 256k
make no-wma.wma 44100 -c:a wmav2 -b:a 64k
make no-wavpack.wv 22050 -c:a wavpack
make no-tta.tta 22050 -c:a tta
make no-speex.spx 16000 -c:a libspeex
make no-gsm.wav 8000 -c:a libgsm_ms
make no-mpegts.ts 44100 -c:a aac -b:a 64k
make no-mpegts-mp2.ts 44100 -c:a mp2 -b:a 64k
make no-ima4.mov 22050 -c:a adpcm_ima_qt
make no-avi.avi 22050 -c:a pcm_u8
make no-w64.w64 8000 -c:a pcm_u8
make no-rf64.wav 8000 -c:a pcm_u8 -rf64 always
make no-flv.flv 22050 -c:a libmp3lame -b:a 32k
ff -f lavfi -i "$picture" -c:v libx264 "$out/no-sound-video.mp4"
ff -f lavfi -i "$picture" -frames:v 1 "$out/no-sound-picture.png"
python3 -c 'import sys, wave; w = wave.open(sys.argv[1], "wb"); w.setparams((1, 2, 8000, 0, "NONE", "")); w.close()' \
   "$out/no-samples.wav"
printf 'This is a letter, not a recording.\nIts name ends in wav all the same.\n' > "$out/no-sound-text.wav"
: > "$out/no-sound-empty.wav"
