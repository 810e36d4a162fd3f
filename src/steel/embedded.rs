//! The text of every file in `materials/`.

macro_rules! grades {
    ($($file:literal),* $(,)?) => {
        [$(($file, include_str!(concat!("../../materials/", $file)))),*]
    };
}

/// File name and text, in the order of the list of grades.
pub(super) static GRADES: [(&str, &str); 30] = grades![
    "en1993-1-2-carbon.toml",
    "en1993-1-2-stainless.toml",
    "c15.toml",
    "c22.toml",
    "s355j2.toml",
    "c35.toml",
    "c45.toml",
    "c60.toml",
    "16mncr5.toml",
    "20mncr5.toml",
    "18crnimo7-6.toml",
    "20nicrmo2-2.toml",
    "42crmo4.toml",
    "41cr4.toml",
    "34crnimo6.toml",
    "aisi-4340.toml",
    "38mnvs6.toml",
    "30mnvs6.toml",
    "100cr6.toml",
    "51crv4.toml",
    "54sicr6.toml",
    "1-4301.toml",
    "1-4404.toml",
    "x20cr13.toml",
    "x40crmov5-1.toml",
    "x38crmov5-1.toml",
    "55nicrmov7.toml",
    "ti-6al-4v.toml",
    "alloy-718.toml",
    "en-aw-6082.toml",
];
