#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::Identifying::{self, *};
use super::{is_full_date, screen};
use proptest::prelude::*;

/// Invented texts, each with the class that must be named. Domains, network and
/// hardware addresses are those reserved for examples (RFC 2606, RFC 5737,
/// RFC 3849, RFC 7042); telephone and personal numbers, the postcode and the
/// article number are from ranges kept for fiction and tests (from memory).
const IDENTIFYING: &[(Identifying, &str)] = &[
    (ControlCharacter, "pacing\u{0}stopped"),
    (ControlCharacter, "line one\u{1b}[31m"),
    (ControlCharacter, "1234\u{200b}5678"),
    (ControlCharacter, "block\u{202e}kcolb"),
    (ControlCharacter, "anno\u{ad}tated"),
    (Email, "write to a.tarn@mail.example"),
    (Email, "A.TARN@MAIL.EXAMPLE"),
    (Email, "tarn @ mail.example"),
    (Email, "tarn(at)mail.example"),
    (Email, "tarn [at] mail"),
    (Email, "tarn at mail dot example"),
    (Email, "coordinator@hospital"),
    (Email, "tarn＠mail．example"),
    (WebAddress, "see https://registry.example/case/7"),
    (WebAddress, "ftp://files.example"),
    (WebAddress, "www.rhythm.example"),
    (WebAddress, "plan on example.org"),
    (WebAddress, "from rhythm.example.net today"),
    (WebAddress, "EXAMPLE.COM"),
    (NetworkAddress, "sent from 192.0.2.17"),
    (NetworkAddress, "host 198.51.100.4:8080 was down"),
    (NetworkAddress, "2001:db8::8a2e:370:7334"),
    (NetworkAddress, "fe80::1"),
    (NetworkAddress, "console 00:53:00:1a:2b:3c"),
    (NetworkAddress, "00-53-00-AF-2B-3C"),
    (ProductIdentifier, "(01)09521234543213(21)A77"),
    (ProductIdentifier, "catheter (21)123"),
    (ProductIdentifier, "sheath (10) LT4471B"),
    (ProductIdentifier, "(17)271231"),
    (ProductIdentifier, "serial no. 88213"),
    (ProductIdentifier, "generator serial: GN-4471"),
    (ProductIdentifier, "S/N 4471X"),
    (ProductIdentifier, "lot 4471B replaced"),
    (ProductIdentifier, "UDI 95212"),
    (Date, "done 2025-03-14"),
    (Date, "2025-03-14T08:15:00Z"),
    (Date, "2025/3/14"),
    (Date, "14.03.2025"),
    (Date, "14. 3. 2025"),
    (Date, "14/3/25"),
    (Date, "3/14/25."),
    (Date, "14-03-25 redo"),
    (Date, "on 14 March 2025"),
    (Date, "14th of March"),
    (Date, "March 14, 2025"),
    (Date, "Mar 14"),
    (Date, "14MAR2025"),
    (Date, "14-Mar-25"),
    (Date, "since May 2024"),
    (Date, "14. märz 2025"),
    (Date, "le 3 août 2024"),
    (Date, "first seen 03/2025"),
    (Date, "14 03 2025"),
    (Date, "20250314"),
    (Date, "١٤/٠٣/٢٠٢٥"),
    (Date, "14.03.2025-16.03.2025"),
    (Date, "DOB 1957"),
    (Date, "born in 1957"),
    (Date, "date of birth on file"),
    (Date, "14 de marzo"),
    (Date, "3 Mar 24"),
    (Date, "25-03-14"),
    (Date, "2025 March 14"),
    (GreatAge, "94-year-old woman"),
    (GreatAge, "aged 92"),
    (GreatAge, "91 yo, frail"),
    (GreatAge, "97 years old"),
    (GreatAge, "93 y/o"),
    (GreatAge, "94 years of age"),
    (GreatAge, "94yo"),
    (GreatAge, "age: 95"),
    (HospitalNumber, "MRN 448-213"),
    (HospitalNumber, "mrn: A12-34"),
    (HospitalNumber, "hospital number 4471"),
    (HospitalNumber, "Hosp. no. H4471"),
    (HospitalNumber, "NHS 999 123 4560"),
    (HospitalNumber, "patient ID = QX-4471"),
    (HospitalNumber, "pt #4471"),
    (HospitalNumber, "insurance no K4471"),
    (HospitalNumber, "ID 4471"),
    (HospitalNumber, "passport X4471"),
    (HospitalNumber, "Pat.-Nr. 4471"),
    (HospitalNumber, "File # 88-12-3"),
    (Phone, "call 555-0142"),
    (Phone, "(555) 555-0142"),
    (Phone, "555.555.0142"),
    (Phone, "1-800-555-0199"),
    (Phone, "+44 20 7946 0958"),
    (Phone, "020 7946 0958"),
    (Phone, "01 99 00 12 34"),
    (Phone, "bleep 2231"),
    (Phone, "tel: 4471"),
    (Phone, "ext. 4471"),
    (Phone, "0049 30 23125 001"),
    (Phone, "+1 (555) 555 0142"),
    (LongNumber, "number 4471882"),
    (LongNumber, "12345"),
    (LongNumber, "X1234567"),
    (LongNumber, "１２３４５６"),
    (LongNumber, "AB123456C"),
    (LongNumber, "0.123456"),
    (HospitalNumber, "000-12-3456"),
    (HospitalNumber, "0000 1111 2222 3333"),
    (TitledName, "seen by Dr Tarnwick"),
    (TitledName, "Dr. A. Tarnwick"),
    (TitledName, "dr tarnwick"),
    (TitledName, "Prof Ola Tarnwick"),
    (TitledName, "Mr Tarnwick agreed"),
    (TitledName, "mr. tarnwick agreed"),
    (TitledName, "Mrs Tarnwick"),
    (TitledName, "Ms O'Tarn"),
    (TitledName, "Frau Tarnwick"),
    (TitledName, "nurse Ebbing saw it"),
    (TitledName, "his wife Maren called"),
    (TitledName, "surname: Tarnwick"),
    (TitledName, "patient name: T."),
    (TitledName, "Initials: AT"),
    (TitledName, "DR TARNWICK"),
    (TitledName, "Dr.Tarnwick"),
    (TitledName, "Mr van Tarn"),
    (PostalAddress, "lives at 12 Elm Street"),
    (PostalAddress, "4a Old Mill Lane"),
    (PostalAddress, "Gartenstraße 12"),
    (PostalAddress, "from ZZ9 9ZZ"),
    (PostalAddress, "QV1W 9ZZ"),
];

/// Invented remarks of the kind that coordinators write.
const CLINICAL: &[&str] = &[
    "",
    "D1 diagonal 12:30 o'clock",
    "RSPV 35 W 20 s",
    "CL 320 ms",
    "ratio 1/2",
    "grade 2-3",
    "8.5F sheath",
    "ACT 350",
    "ACT 350. 20 min later 280.",
    "S1 600 S2 400 S3 280 ms",
    "600/400/320 ms",
    "600 320 280 non-inducible",
    "RF 30/35/40 W at the roof",
    "10/20/30 W steps",
    "heparin 10,000 units, then 5,000",
    "heparin 5000 IU",
    "V1-V6, II, III, aVF",
    "decapolar 1-2, 3-4, 9-10 in CS",
    "filter 30-500 Hz",
    "range 300-1200 ms",
    "cycle length 300-1200",
    "burst 250-200-180",
    "HV 45 ms, AH 90 ms",
    "HV +10 ms after the septal line",
    "LSPV at 35W@20s",
    "paced @ RVOT",
    "40 W @ 0.5 s",
    "FT 12:30, then beam off",
    "12:30:45 on the clock",
    "LVEF 35 %, LA 48 mm",
    "LA 4.5. 12 lesions at the ridge.",
    "MR mild, TR moderate",
    "no MR. Then PVI completed",
    "trace mr. lvef normal",
    "cardiac MR before the case",
    "MS severe",
    "cycle 320 ms After isoprenaline",
    "doctor informed, patient stable",
    "the doctor on call was present",
    "Dr present throughout",
    "nurse gave protamine",
    "Sister ward full, stay prolonged",
    "his wife called on day 3",
    "did not miss the RSPV",
    "newborn screening normal",
    "born at 32 weeks",
    "may need redo",
    "May need redo in 3 months",
    "Grade 2. May need a repeat",
    "march of the pacing train",
    "second degree block, 2:1",
    "dec 10 ms per step",
    "day 14, minute 30",
    "2025Q3",
    "in 2024 a first ablation elsewhere",
    "EHRA class 2b",
    "CHA2DS2-VA 3",
    "BMI 27.4, ASA 2",
    "age 67, 3 prior ablations",
    "aged 90 or more",
    "rate 94 bpm",
    "95 % contact",
    "92 mm scar",
    "120 years of pooled experience",
    "lesions (10) then redo",
    "veins (4) isolated",
    "see (21) for details",
    "diameter (21)mm",
    "a lot of ectopy",
    "a lot of 250 points",
    "serial ECGs on day 2",
    "patient no 300 ms pauses",
    "patient is 120 kg",
    "hospital stay 4 days",
    "chart review only",
    "case no. 12 of the list",
    "ID 4.5 mm sheath",
    "mobile thrombus 12 mm",
    "extension of the line 20 mm",
    "phone contact on day 31",
    "software version changed mid-case",
    "map v1.2.10",
    "e.g. i.e. a.m. p.m.",
    "isolated.No effusion",
    "end of case.Net result good",
    "stable.Pt discharged",
    "first-pass isolation 4/4 veins",
    "1:1 conduction, 12 × 8 mm lesion",
    "catheter name: decapolar",
    "conduit lane blocked",
    "steam pop at 3 o'clock, 40 W",
    "temperature 42.5 °C",
    "KAP 13,639 mGy.cm2",
    "kerma 212 mGy, 7.5 min",
    "drained 450 mL at 25 min",
    "BP 80/40, 120/70 after fluid",
    "poles 2-5-2 mm apart",
    "noradrenaline 0.1-0.2-0.3",
    "ICE: 5 mm rim, no change",
    "line one\nline two\tend",
    "naïve β-blocker, µV signals",
    "12 to 16 lesions per vein",
    "V1 2MM ST elevation",
    "PVI with 28 mm balloon, 4 freezes of 180 s",
    "post-pacing interval 30 ms longer than TCL 240",
    "RF 50 W / 10 s posterior, 15 s anterior",
    "contact 10-20 g",
    "AI 400/550 posterior/anterior",
    "transient PR prolongation to 240 ms, recovered",
    "RR interval 850-1000",
    "adenosine 12 mg, 18 mg",
    "patient had prior surgery at age 7",
    "map points 2450, volume 120 mL",
    "TCL 600-400-300",
    "freeze -48 °C at 150 s",
    "12 lead ECG, V2S/V3R index 1.6",
    "1st degree AV block",
    "3rd freeze",
    "fluoro 0.4 min at 3 fps",
    "no. 4 catheter replaced",
    "record kept open 20 min",
    "10 000 units heparin",
    "de novo AF",
    "aug. rate",
    "version 3.2.1",
    "steps 5-10-15 mA",
    "12/14/16 mm",
];

#[test]
fn identifying_text_is_refused_with_its_class() {
    let missed: Vec<_> = IDENTIFYING
        .iter()
        .map(|(class, text)| (text, Err(*class), screen(text)))
        .filter(|(_, expected, found)| expected != found)
        .collect();
    assert_eq!(missed, []);
}

#[test]
fn identifying_text_is_refused_inside_a_remark() {
    let missed: Vec<_> = IDENTIFYING
        .iter()
        .map(|(class, text)| (format!("Second attempt: {text}; block shown"), Err(*class)))
        .map(|(remark, expected)| (screen(&remark), expected, remark))
        .filter(|(found, expected, _)| expected != found)
        .collect();
    assert_eq!(missed, []);
}

#[test]
fn every_class_has_examples() {
    let classes = [
        ControlCharacter,
        Email,
        WebAddress,
        NetworkAddress,
        ProductIdentifier,
        Date,
        GreatAge,
        HospitalNumber,
        Phone,
        LongNumber,
        TitledName,
        PostalAddress,
    ];
    for class in classes {
        let examples = IDENTIFYING.iter().filter(|(found, _)| *found == class).count();
        assert!(examples >= 4, "{class:?} has {examples}");
    }
    assert_eq!(classes.len(), super::SIGNS.len() + 1);
    assert!(IDENTIFYING.len() >= 60 && CLINICAL.len() >= 60);
}

#[test]
fn clinical_remarks_pass() {
    let refused: Vec<_> = CLINICAL.iter().filter_map(|text| Some((text, screen(text).err()?))).collect();
    assert_eq!(refused, []);
}

#[test]
fn the_message_says_the_class_and_the_mend_and_never_the_text() {
    for (class, text) in IDENTIFYING {
        let message = screen(text).unwrap_err().to_string();
        assert_eq!(message, class.to_string());
        assert!(message.starts_with("holds ") && message.contains([';', ',']), "{message}");
    }
}

#[test]
fn a_full_date_has_day_month_and_year() {
    let full = [
        "2025-03-14",
        "2025/03/14",
        "2025-03-14T10:00",
        "14.03.2025",
        "14.3.25",
        "14/3/25",
        "3/14/25",
        "03-14-2025",
        "14 March 2025",
        "14th March 2025",
        "March 14, 2025",
        "Mar 14 2025",
        "14-Mar-25",
        "14MAR2025",
        "14 03 2025",
        "20250314",
        " 2025-03-14 ",
        "14. März 2025",
        "14 de marzo de 2025",
    ];
    for text in full {
        assert!(is_full_date(text), "{text}");
    }
    let not_full = [
        "",
        "2025Q3",
        "2025",
        "2025-03",
        "03/2025",
        "March 2025",
        "14 March",
        "2025-13-45",
        "99.99.2025",
        "1/2",
        "12:30",
        "320",
        "2010Q1",
        "10.20.2.5",
        "0.5",
    ];
    for text in not_full {
        assert!(!is_full_date(text), "{text}");
    }
}

proptest! {
    #[test]
    fn no_text_makes_the_screen_fail(text in any::<String>()) {
        let _ = screen(&text);
        let _ = is_full_date(&text);
    }

    #[test]
    fn no_mix_of_telling_pieces_makes_the_screen_fail(
        pieces in prop::collection::vec(
            prop::sample::select(vec![
                "1", "14", "2025", "-", "/", ".", " ", "(", ")", ":", "@", "#", "+", "at", "dot",
                "Dr", "mr", "May", "born", "tel", "MRN", "no", "name", "Street", "ZZ", "9", "ß", "٣",
            ]),
            0..24,
        )
    ) {
        let text = pieces.concat();
        let _ = screen(&text);
        let _ = is_full_date(&text);
    }

    #[test]
    fn five_digits_in_a_row_are_always_refused(
        before in "[a-zA-Z ,;]{0,12}", digits in "[0-9]{5,14}", after in "[a-zA-Z ,;]{0,12}",
    ) {
        let text = [before, digits, after].concat();
        prop_assert!(screen(&text).is_err());
    }

    #[test]
    fn every_iso_date_is_refused(year in 1900u16..2100, month in 1u8..=12, day in 1u8..=28) {
        let text = format!("seen {year}-{month:02}-{day:02}");
        prop_assert_eq!(screen(&text), Err(Date));
        prop_assert!(is_full_date(&text));
    }
}
