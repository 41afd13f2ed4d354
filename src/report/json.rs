//! One JSON object a line and recording, for programs.

use std::io::{self, Write};
use std::path::Path;

use serde::Serialize;

use super::Form;
use crate::listening::saved::TakeObject;
use crate::verdict::JudgedTake;

/// Writes a value as one line.
///
/// # Errors
/// Where `out` cannot be written.
pub fn json_line(out: &mut dyn Write, value: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *out, value).map_err(io::Error::from)?;
    writeln!(out)
}

/// The JSON form. Takes are kept until their recording is through.
#[derive(Debug, Default)]
pub struct Json {
    file: String,
    takes: Vec<TakeObject>,
}

#[derive(Serialize)]
struct FileObject<'a> {
    file: &'a str,
    takes: &'a [TakeObject],
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<&'a str>,
}

impl Form for Json {
    fn begin(&mut self, file: &Path) {
        self.file = file.display().to_string();
        self.takes.clear();
    }

    fn take(&mut self, _out: &mut dyn Write, take: JudgedTake) -> io::Result<()> {
        self.takes.push(TakeObject::from(&take));
        Ok(())
    }

    fn end(&mut self, out: &mut dyn Write, problem: Option<&str>) -> io::Result<()> {
        let object = FileObject {
            file: &self.file,
            takes: &self.takes,
            error: problem,
        };
        json_line(out, &object)
    }

    fn summary(&mut self, _out: &mut dyn Write) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::Warning;
    use crate::verdict::examples::*;
    use serde_json::Value;

    fn report(takes: Vec<JudgedTake>, problem: Option<&str>) -> String {
        let mut json = Json::default();
        let mut out = Vec::new();
        json.begin(Path::new("a \"b\".wav"));
        for take in takes {
            json.take(&mut out, take).unwrap();
        }
        json.end(&mut out, problem).unwrap();
        json.summary(&mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn a_take_is_written_whole() {
        insta::assert_snapshot!(report(vec![bb()], None), @r#"{"file":"a \"b\".wav","takes":[{"start_s":0.312,"manner":"strummed","chord":"Bb","frets":"x13331","tuning_cents":4.1,"warnings":[],"strings":[{"string":6,"expected_fret":null,"verdict":"silent","heard_fret":null,"rings":0.02,"confidence":0.98,"cents":null,"level_db":null,"reason":null},{"string":5,"expected_fret":1,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":1.1,"level_db":-4.0,"reason":null},{"string":4,"expected_fret":3,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":3.1,"level_db":-6.0,"reason":null},{"string":3,"expected_fret":3,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":3.1,"level_db":-6.0,"reason":null},{"string":2,"expected_fret":3,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":3.1,"level_db":-6.0,"reason":null},{"string":1,"expected_fret":1,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":1.1,"level_db":-4.0,"reason":null}],"advice":[]}]}"#);
    }

    #[test]
    fn a_recording_that_cannot_be_read_has_its_sentence() {
        insta::assert_snapshot!(report(vec![], Some("no such file")), @r#"{"file":"a \"b\".wav","takes":[],"error":"no such file"}"#);
    }

    #[test]
    fn a_warning_has_kind_data_and_sentence() {
        let text = report(vec![not_judged(Warning::Clipped { share: 0.031_23 })], None);
        let value: Value = serde_json::from_str(&text).unwrap();
        insta::assert_snapshot!(value["takes"][0]["warnings"][0], @r#"{"kind":"clipped","share":0.0312,"text":"The recording is overloaded: 3 % of it is cut off at full level. Move the microphone away or turn its level down, and record again."}"#);
        assert_eq!(value["takes"][0]["strings"][0]["reason"], "not-judged");
    }

    #[test]
    fn what_is_no_number_is_null() {
        let mut take = bb();
        take.tuning_cents = f32::NAN;
        take.strings[0].rings = f32::INFINITY;
        take.warnings.push(Warning::TooQuiet {
            peak_dbfs: f32::NEG_INFINITY,
        });
        let text = report(vec![take], None);
        let value: Value = serde_json::from_str(&text).unwrap();
        let take = &value["takes"][0];
        assert!(take["tuning_cents"].is_null());
        assert!(take["strings"][0]["rings"].is_null());
        assert!(take["warnings"][0]["peak_dbfs"].is_null());
    }
}
