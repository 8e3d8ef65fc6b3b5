#!/usr/bin/env bash
# Makes fixtures/speech: two short texts of our own and some numbers in a tone language, spoken by eSpeak NG 1.51 and packed by ffmpeg 5.1.
set -euo pipefail
cd "$(dirname "$0")/../../fixtures/speech"
speak() {
    espeak-ng -v "$2" -s "$3" --stdout "$4" |
        ffmpeg -v error -y -i - -ar 22050 -ac 1 -map_metadata -1 -fflags +bitexact -flags:a +bitexact -c:a libvorbis -q:a 2 "$1"
}
speak low.ogg en-gb-scotland 145 "Good evening. Here is the line from last week, on the small harp. I take it slowly at first, then once more."
speak high.ogg nl+f5 160 "Dit was de eerste keer. Nu speel ik het nog een keer, en dan ga ik naar huis."
speak numbers.ogg yue 120 "321, 8064, 57, 1290, 43, 7718, 605, 92, 3366, 154."
