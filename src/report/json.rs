//! One JSON object a line and recording, for programs.

use std::io::{self, Write};
use std::path::Path;

use serde::Serialize;
use serde_json::{Map, Value};

use super::Form;
use crate::take::Manner;
use crate::verdict::{Advice, Reason, Take, Verdict, wording};

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

#[derive(Debug, Serialize)]
struct TakeObject {
    start_s: Value,
    manner: Manner,
    chord: Option<String>,
    frets: String,
    tuning_cents: Value,
    warnings: Vec<Map<String, Value>>,
    strings: Vec<StringObject>,
    advice: Vec<Advice>,
}

#[derive(Debug, Serialize)]
struct StringObject {
    string: u8,
    expected_fret: Option<u8>,
    verdict: Verdict,
    heard_fret: Option<u8>,
    rings: Value,
    confidence: Value,
    cents: Value,
    level_db: Value,
    reason: Option<Reason>,
}

impl Form for Json {
    fn begin(&mut self, file: &Path) {
        self.file = file.display().to_string();
        self.takes.clear();
    }

    fn take(&mut self, _out: &mut dyn Write, take: Take) -> io::Result<()> {
        self.takes.push(TakeObject::from(&take));
        Ok(())
    }

    fn end(&mut self, out: &mut dyn Write, problem: Option<&str>) -> io::Result<()> {
        let object = FileObject {
            file: &self.file,
            takes: &self.takes,
            error: problem,
        };
        serde_json::to_writer(&mut *out, &object).map_err(io::Error::from)?;
        writeln!(out)
    }

    fn summary(&mut self, _out: &mut dyn Write) -> io::Result<()> {
        Ok(())
    }
}

/// A take as it stands in a file's "takes".
pub fn take_object(take: &Take) -> Value {
    serde_json::to_value(TakeObject::from(take)).unwrap_or(Value::Null)
}

impl From<&Take> for TakeObject {
    fn from(take: &Take) -> Self {
        TakeObject {
            start_s: rounded(take.start_s, 3),
            manner: take.manner,
            chord: take.chord.clone(),
            frets: take.frets.to_string(),
            tuning_cents: rounded(take.tuning_cents.into(), 1),
            warnings: take.warnings.iter().map(|w| warning(w, take)).collect(),
            strings: take
                .strings
                .iter()
                .map(|s| StringObject {
                    string: s.string,
                    expected_fret: s.expected_fret,
                    verdict: s.verdict,
                    heard_fret: s.heard_fret,
                    rings: rounded(s.rings.into(), 3),
                    confidence: rounded(s.confidence.into(), 3),
                    cents: s.cents.map_or(Value::Null, |c| rounded(c.into(), 1)),
                    level_db: s.level_db.map_or(Value::Null, |db| rounded(db.into(), 1)),
                    reason: s.reason,
                })
                .collect(),
            advice: take.advice.clone(),
        }
    }
}

/// The warning's kind and data, and its sentence as `text`.
fn warning(warning: &crate::verdict::Warning, take: &Take) -> Map<String, Value> {
    let mut object = match serde_json::to_value(warning) {
        Ok(Value::Object(object)) => object,
        other => unreachable!("a warning is an object with a kind, not {other:?}"),
    };
    for value in object.values_mut() {
        if let Some(number) = value.as_f64() {
            *value = rounded(number, 4);
        }
    }
    object.insert("text".into(), wording::warning(warning, take).into());
    object
}

/// The number to so many decimals; null where it is none (JSON knows no NaN).
fn rounded(number: f64, decimals: i32) -> Value {
    let scale = 10f64.powi(decimals);
    // Adding zero turns -0.0 into 0.0.
    serde_json::Number::from_f64((number * scale).round() / scale + 0.0)
        .map_or(Value::Null, Value::Number)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::Warning;
    use crate::verdict::examples::*;

    fn report(takes: Vec<Take>, problem: Option<&str>) -> String {
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
        insta::assert_snapshot!(report(vec![bb()], None), @r#"{"file":"a \"b\".wav","takes":[{"start_s":0.312,"manner":"strummed","chord":"Bb","frets":"x13331","tuning_cents":4.1,"warnings":[],"strings":[{"string":6,"expected_fret":null,"verdict":"silent","heard_fret":null,"rings":0.02,"confidence":0.98,"cents":null,"reason":null},{"string":5,"expected_fret":1,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":1.1,"reason":null},{"string":4,"expected_fret":3,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":3.1,"reason":null},{"string":3,"expected_fret":3,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":3.1,"reason":null},{"string":2,"expected_fret":3,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":3.1,"reason":null},{"string":1,"expected_fret":1,"verdict":"clean","heard_fret":null,"rings":0.99,"confidence":0.98,"cents":1.1,"reason":null}],"advice":[]}]}"#);
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
