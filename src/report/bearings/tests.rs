use super::*;
use crate::bearings::Method;
use crate::session;
use crate::tuning::PitchStandard;

fn report(name: &str, kept: NoteName, method: Method) -> BearingsReport {
    let temperaments = session::temperaments(None).unwrap();
    let temperament = session::find(&temperaments, name).unwrap();
    let standard = PitchStandard::new(415.0).unwrap().kept_by(kept);
    let sheet = Sheet::new(temperament, Chain::usual(), standard, None, method).unwrap();
    BearingsReport::new(&sheet)
}

#[test]
fn a_sheet_by_fifths() {
    let report = report("sixth-comma", NoteName::A, Method::Fifths);
    insta::assert_snapshot!(report.to_table());
}

#[test]
fn a_sheet_by_thirds_from_c() {
    let report = report("quarter-comma", NoteName::C, Method::Thirds);
    insta::assert_snapshot!(report.to_table());
}

#[test]
fn json_holds_every_step() {
    let report = report("vallotti", NoteName::A, Method::Fifths);
    let json: serde_json::Value = serde_json::from_str(&report.to_json()).unwrap();
    let steps = json["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 30);
    assert_eq!(steps[0]["hz"], 415.0);
    assert_eq!(steps[0]["interval"], serde_json::Value::Null);
    let fourth = &steps[2];
    assert_eq!(
        (&fourth["tune"], &fourth["to"]),
        (&"D4".into(), &"A3".into())
    );
    assert_eq!(fourth["interval"]["name"], "fourth");
    assert_eq!(fourth["interval"]["sense"], "wide");
    assert_eq!(json["cautions"].as_array().unwrap().len(), CAUTIONS.len());
}

#[test]
fn the_page_needs_nothing_from_outside_and_escapes_what_it_is_given() {
    let mut report = report("sixth-comma", NoteName::A, Method::Fifths);
    report.title = "<script>alert(1)</script>".to_owned();
    let page = report.to_html();
    assert!(
        !page.contains("<script") && !page.contains("http:") && !page.contains("https:"),
        "{page}"
    );
    assert!(page.contains("&lt;script&gt;"));
    for caution in CAUTIONS {
        assert!(page.contains(caution), "{caution}");
    }
    assert_eq!(page.matches("<tr class=").count(), report.steps.len());
}
