//! Sliders in the report: margins from polynomials that were fitted before, with their error.

use maud::{Markup, PreEscaped, html};
use serde_json::json;

use crate::ask::explore::Explored;
use crate::judge::Limit;
use crate::show::html::script_data;
use crate::show::{Cell, Quantity, View, limit, say};
use crate::text::clean;
use crate::text::number::fixed;

/// The script of the sliders.
const SCRIPT: &str = include_str!("explore.js");

/// The sliders, the table of margins, the error.
pub(super) fn section(explored: &Explored, limits: &[Limit], view: &View) -> Markup {
    let largest = explored.error_k.iter().copied().fold(0.0, f64::max);
    let error = say("page.surface_error")
        .with("points", Cell::count(explored.runs.1))
        .with("error", Cell::number(largest, Quantity::Difference).up());
    html! {
        p { (view.say("page.for_other")) }
        div id="explore" hidden {
            @for (k, of) in explored.varied.iter().enumerate() {
                @let range = format!("{} \u{2013} {} {}", number(of.low, view), number(of.high, view), of.unit);
                div class="slide" {
                    label for=(format!("x{k}")) id=(format!("xl{k}")) { (clean(&of.path)) " " (of.unit) }
                    input type="range" data-range=(k) aria-labelledby=(format!("xl{k}")) min=(of.low) max=(of.high)
                        step=((of.high - of.low) / 400.0) value=(of.planned);
                    input type="text" inputmode="decimal" autocomplete="off" id=(format!("x{k}")) data-field=(k)
                        aria-describedby=(format!("xe{k} xh{k}")) value=(number(of.planned, view));
                    span id=(format!("xh{k}")) class="note" { (range) }
                    strong class="bad" id=(format!("xe{k}")) data-error=(k) role="alert"
                        data-text=(format!("{} {}: {range}", view.say("page.outside"), view.say("inputs.allowed"))) {}
                }
            }
            p id="explore-answer" class="verdict" role="status" aria-live="polite" {}
            table {
                thead { tr {
                    th scope="col" { (view.say("word.limit")) }
                    th scope="col" { (view.say("report.verdict")) }
                    th scope="col" class="num" { (view.say("word.margin")) " " (view.difference_unit()) }
                    th scope="col" class="num" { "\u{b1} " (view.difference_unit()) }
                } }
                tbody {
                    @for (k, of) in limits.iter().enumerate() {
                        tr data-limit=(k) {
                            th scope="row" { (Cell::from(limit(of)).whole(view)) }
                            td class="state" {}
                            td class="num margin" {}
                            td class="num" { (Cell::number(explored.error_k[k], Quantity::Difference).up().bare(view)) }
                        }
                    }
                }
            }
        }
        p class="note" { (Cell::from(error).whole(view)) }
        @if !explored.left_out.is_empty() {
            @let names = Cell::name(explored.left_out.join(", "));
            p class="note" { (Cell::from(say("page.left_out").with("names", names)).whole(view)) }
        }
        script type="application/json" id="explore-data" { (PreEscaped(data(explored, view))) }
        script { (PreEscaped(SCRIPT)) }
    }
}

fn number(value: f64, view: &View) -> String {
    fixed(value, 2, view.decimal_comma)
}

/// The polynomials as data that can stand inside a script element.
fn data(explored: &Explored, view: &View) -> String {
    let varied: Vec<_> = explored
        .varied
        .iter()
        .map(|of| json!({ "low": of.low, "high": of.high, "planned": of.planned }))
        .collect();
    script_data(&json!({
        "varied": varied,
        "degrees": explored.degrees,
        "highest": explored.degrees.iter().flatten().max(),
        "coefficients": explored.coefficients,
        "error": explored.error_k,
        "scale": view.display.difference(1.0),
        "comma": view.decimal_comma,
        "words": {
            "holds": view.say("verdict.holds"),
            "broken": view.say("verdict.broken"),
            "open": view.say("page.open"),
        },
    }))
}
