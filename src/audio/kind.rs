//! Kind of a file, told by its first bytes: the name may say anything.

use crate::words;
use std::io::{self, Read, Seek, SeekFrom};

/// Bytes of a file's start that suffice to know its kind.
const HEAD_BYTES: usize = 512;

/// A page of an OGG file: header and segment table, and at most 255 segments of 255 bytes.
const OGG_PAGE_BYTES: u64 = 27 + 255 + 255 * 255;

/// Kind of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum FileKind {
    Wav,
    Flac,
    Mpeg,
    Mp4,
    Ogg,
    Matroska,
    /// Sound of a kind that is not read, as the start of a sentence.
    Unsupported(&'static str),
    /// Not sound; what it is, with its article.
    Other(&'static str),
}

/// Reads the head of `file` and leaves it rewound.
pub(super) fn of(file: &mut (impl Read + Seek)) -> io::Result<FileKind> {
    let mut head = Vec::with_capacity(HEAD_BYTES);
    file.seek(SeekFrom::Start(0))?;
    file.by_ref()
        .take(HEAD_BYTES as u64)
        .read_to_end(&mut head)?;
    file.seek(SeekFrom::Start(0))?;
    Ok(of_head(&head))
}

/// Signatures as their formats' specifications give them.
fn of_head(head: &[u8]) -> FileKind {
    use FileKind::*;
    let at = |offset: usize, magic: &[u8]| {
        head.get(offset..)
            .is_some_and(|rest| rest.starts_with(magic))
    };
    match head {
        // RF64 and BW64 are its forms for over 4 GB (EBU Tech 3306, ITU-R BS.2088).
        [b'R', b'I', b'F', b'F', ..]
        | [b'R', b'F', b'6', b'4', ..]
        | [b'B', b'W', b'6', b'4', ..]
            if at(8, b"WAVE") =>
        {
            Wav
        }
        [b'f', b'L', b'a', b'C', ..] => Flac,
        // A tag before the sound; nearly always MP3, and FLAC is found behind it too.
        [b'I', b'D', b'3', ..] => Mpeg,
        [b'O', b'g', b'g', b'S', ..] => ogg(head),
        _ if at(4, b"ftyp") => mp4(head),
        _ if at(0, b"caff") => Unsupported(words::recording::CAF),
        _ if at(0, b"FORM") => Unsupported(words::recording::AIFF),
        _ if at(0, b"#!AMR") => Unsupported(words::recording::AMR),
        _ if at(0, b"\x1a\x45\xdf\xa3") => Matroska,
        _ if at(0, b"\x30\x26\xb2\x75\x8e\x66\xcf\x11") => Unsupported(words::recording::WMA),
        _ if at(0, b"wvpk") => Unsupported(words::recording::WAVPACK),
        _ if at(0, b"MAC ") => Unsupported(words::recording::MONKEYS_AUDIO),
        _ if at(0, b"MThd") => Other(words::recording::MIDI),
        _ if at(0, b"\x89PNG") => Other(words::recording::PNG),
        _ if at(0, b"\xff\xd8\xff") => Other(words::recording::JPEG),
        _ if at(0, b"GIF8") => Other(words::recording::GIF),
        _ if at(0, b"%PDF") => Other(words::recording::PDF),
        _ if at(0, b"PK\x03\x04") => Other(words::recording::ZIP),
        _ if at(0, b"\x1f\x8b") => Other(words::recording::GZIP),
        _ if at(0, b"RIFF") && at(8, b"AVI ") => Unsupported(words::recording::AVI),
        _ if at(0, b"RIFF") || at(0, b"RF64") => Other(words::recording::RIFF),
        // Frame synchronisation of MPEG layers 1 to 3, and of AAC in ADTS frames.
        [0xff, second, ..] if second & 0xe0 == 0xe0 => Mpeg,
        _ if is_text(head) => Other(words::recording::TEXT),
        _ => Other(words::recording::UNKNOWN_DATA),
    }
}

fn mp4(head: &[u8]) -> FileKind {
    match head.get(8..12) {
        Some(b"heic" | b"heix" | b"mif1" | b"avif") => FileKind::Other(words::recording::HEIC),
        _ => FileKind::Mp4,
    }
}

/// The first page of an OGG file holds the head of its first stream.
fn ogg(head: &[u8]) -> FileKind {
    let segments = head.get(26).map_or(0, |&n| usize::from(n));
    let body = head.get(27 + segments..).unwrap_or(&[]);
    match body {
        _ if body.starts_with(b"Speex   ") => FileKind::Unsupported(words::recording::SPEEX),
        _ if body.starts_with(b"\x80theora") => FileKind::Unsupported(words::recording::THEORA),
        _ => FileKind::Ogg,
    }
}

fn is_text(head: &[u8]) -> bool {
    // A character of several bytes may be cut at the end.
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        Err(error) if error.error_len().is_none() => {
            std::str::from_utf8(&head[..error.valid_up_to()]).unwrap_or("")
        }
        Err(_) => return false,
    };
    !text.is_empty() && !text.chars().any(|c| c.is_control() && !c.is_whitespace())
}

/// Tells whether an OGG file breaks off: its last page is not marked as the stream's end, or is not whole.
pub(super) fn ogg_is_cut(file: &mut (impl Read + Seek)) -> io::Result<bool> {
    let length = file.seek(SeekFrom::End(0))?;
    let start = length.saturating_sub(OGG_PAGE_BYTES);
    file.seek(SeekFrom::Start(start))?;
    let mut tail = Vec::new();
    file.by_ref().take(OGG_PAGE_BYTES).read_to_end(&mut tail)?;
    file.seek(SeekFrom::Start(0))?;
    let last_page = tail.windows(4).rposition(|bytes| bytes == b"OggS");
    let Some(page) = last_page.map(|at| &tail[at..]) else {
        return Ok(true);
    };
    const LAST_OF_STREAM: u8 = 4;
    let (Some(&flags), Some(&segments)) = (page.get(5), page.get(26)) else {
        return Ok(true);
    };
    let table = page.get(27..27 + usize::from(segments)).unwrap_or(&[]);
    let whole = 27 + usize::from(segments) + table.iter().map(|&n| usize::from(n)).sum::<usize>();
    Ok(flags & LAST_OF_STREAM == 0 || page.len() < whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_known_by_their_first_bytes() {
        assert_eq!(of_head(b"RIFF\0\0\0\0WAVE"), FileKind::Wav);
        assert_eq!(of_head(b"RF64\xff\xff\xff\xffWAVE"), FileKind::Wav);
        assert_eq!(of_head(b"\0\0\0\x20ftypM4A "), FileKind::Mp4);
        assert_eq!(of_head(b"\xff\xfb\x90\x00"), FileKind::Mpeg);
        assert_eq!(of_head(b"x24442\n"), FileKind::Other("text"));
        assert_eq!(of_head("Übung".as_bytes()), FileKind::Other("text"));
        assert_eq!(of_head(b"\x00\x01\x02"), FileKind::Other("unknown data"));
        assert_eq!(of_head(b"R"), FileKind::Other("text"));
        let ogg = |stream: &[u8]| {
            let mut page = b"OggS".to_vec();
            page.resize(26, 0);
            page.extend_from_slice(b"\x01\x13");
            page.extend_from_slice(stream);
            of_head(&page)
        };
        assert_eq!(ogg(b"OpusHead"), FileKind::Ogg);
        assert_eq!(ogg(b"Speex   "), FileKind::Unsupported("Speex sound"));
    }
}
