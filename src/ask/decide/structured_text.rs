//! The decision as a function block in Structured Text (IEC 61131-3): the same decision from the same
//! numbers, in the same order of arithmetic.

use std::fmt::Write;

use super::{DecisionTable, ROUNDING_K};

/// Numbers on one line of an array.
const A_LINE: usize = 8;

/// The function block of a table.
#[must_use]
pub fn structured_text(table: &DecisionTable) -> String {
    let (exits, rows, stages) = (table.exit_c.len(), table.limit_of.len(), table.stages.len());
    let mut out = head(table);
    let _ = write!(
        out,
        "FUNCTION_BLOCK BILLET_DECISION\n\
         VAR_INPUT\n\
         \x20   ExitC : LREAL; (* measured exit temperature, surface, degC *)\n\
         \x20   Done : INT; (* hand-overs done so far; those to come count as planned *)\n\
         \x20   Seconds : ARRAY [1..{stages}] OF LREAL; (* their seconds, in the order above *)\n\
         END_VAR\n\
         VAR_OUTPUT\n\
         \x20   State : INT; (* 0 outside the table: reject; 1 good; 2 wait; 3 alarm; 4 reject *)\n\
         \x20   LimitNo : INT; (* the tightest limit, 0 outside the table *)\n\
         \x20   MarginK : LREAL; (* its margin in K, reject guard and error of the table taken off *)\n\
         \x20   UntilS : LREAL; (* wait: seconds of the last hand-over from which on the part is good *)\n\
         END_VAR\n\
         VAR CONSTANT\n"
    );
    array(&mut out, "ExitAt", &table.exit_c);
    array(&mut out, "Base", &table.base_k.concat());
    array(&mut out, "Guard", &table.guard_k);
    array(&mut out, "AlarmGuard", &table.alarm_guard_k);
    array(&mut out, "TableError", &table.error_k.concat());
    let seconds: Vec<f64> = table.stages.iter().flat_map(|s| s.seconds.clone()).collect();
    array(&mut out, "SecondsAt", &seconds);
    let changes: Vec<f64> = table.stages.iter().flat_map(|s| s.change_k.concat().concat()).collect();
    array(&mut out, "Change", &changes);
    let errors: Vec<f64> = table.stages.iter().flat_map(|s| s.error_k.concat()).collect();
    array(&mut out, "ChangeError", &errors);
    // A block without pairs has an array that nothing reads.
    let pairs = if stages > 1 {
        table.pair_per_k.concat()
    } else {
        vec![0.0]
    };
    array(&mut out, "Pair", &pairs);
    array(&mut out, "SumError", &table.sum_error_per_k.concat());
    let counts: Vec<usize> = table.stages.iter().map(|s| s.seconds.len()).collect();
    let all = rows * stages;
    let first = |size: &dyn Fn(usize) -> usize| -> Vec<usize> { (0..stages).map(|k| (0..k).map(size).sum()).collect() };
    let limit_of: Vec<usize> = table.limit_of.iter().map(|limit| limit + 1).collect();
    whole(&mut out, "LimitOf", "INT", &limit_of);
    whole(&mut out, "CountAt", "INT", &counts);
    whole(&mut out, "FirstAt", "INT", &first(&|k| counts[k]));
    whole(&mut out, "FirstChange", "DINT", &first(&|k| counts[k] * exits * rows));
    whole(&mut out, "FirstError", "DINT", &first(&|k| counts[k] * rows));
    whole(&mut out, "FirstPair", "DINT", &first(&|k| k * rows));
    let _ = write!(
        out,
        "END_VAR\n\
         VAR\n\
         \x20   iAt : INT; iMargin : INT; iStep : INT; iRow : INT; iCol : INT; nAt : INT; iAlarm : INT;\n\
         \x20   iFirst : INT; iLow : DINT; iHigh : DINT; iError : DINT; iTenth : DINT;\n\
         \x20   Inside : BOOL; Fits : BOOL;\n\
         \x20   rExit : LREAL; rExitShare : LREAL; rSeconds : LREAL; rShare : LREAL; rSlack : LREAL;\n\
         \x20   rLow : LREAL; rHigh : LREAL; rWork : LREAL; rErrs : LREAL; rAlarm : LREAL;\n\
         \x20   rTry : LREAL; rFrom : LREAL; rTo : LREAL; rHere : LREAL; rLast : LREAL;\n\
         \x20   Margin : ARRAY [1..{rows}] OF LREAL;\n\
         \x20   Done_K : ARRAY [1..{all}] OF LREAL; (* changes of the hand-overs done *)\n\
         \x20   Weight : ARRAY [1..{rows}] OF LREAL; (* of the last change *)\n\
         \x20   Gains : ARRAY [1..{rows}] OF LREAL; (* of the changes before it *)\n\
         \x20   Losses : ARRAY [1..{rows}] OF LREAL;\n\
         \x20   Before : ARRAY [1..{rows}] OF LREAL; (* margins without the last hand-over *)\n\
         \x20   LowEnd : ARRAY [1..{rows}] OF LREAL;\n\
         \x20   HighEnd : ARRAY [1..{rows}] OF LREAL;\n\
         END_VAR\n"
    );
    let text = BODY
        .replace("{errs}", ERRS)
        .replace("{exits}", &exits.to_string())
        .replace("{rows}", &rows.to_string())
        .replace("{stages}", &stages.to_string())
        .replace("{rounding}", &literal(ROUNDING_K));
    out.push_str(&text);
    out
}

/// Which line the block belongs to, what its numbers stand for.
fn head(table: &DecisionTable) -> String {
    let of = &table.identity;
    let plain = |text: &str| {
        text.replace("*)", "* )")
            .replace("(*", "( *")
            .replace(['\n', '\r'], " ")
    };
    let mut lines = vec![
        format!("Decision on one part of: {}", plain(&of.title)),
        format!(
            "part {}, revision {}",
            plain(of.part.as_deref().unwrap_or("-")),
            plain(of.revision.as_deref().unwrap_or("-"))
        ),
        format!("line file {}", of.input_sha256),
        format!("table {}", table.digest),
        format!("{}, layout {}", of.program, table.schema_version),
        format!(
            "risk at the reject margin {}, at the alarm margin {}",
            of.reject_risk, of.alarm_risk
        ),
    ];
    if let (Some(low), Some(high)) = (table.exit_c.first(), table.exit_c.last()) {
        lines.push(format!("exit {low} to {high} degC"));
    }
    for (k, stage) in table.stages.iter().enumerate() {
        if let (Some(low), Some(high)) = (stage.seconds.first(), stage.seconds.last()) {
            let name = plain(&stage.stage);
            lines.push(format!(
                "hand-over {}: {name}, planned {} s, {low} to {high} s",
                k + 1,
                stage.planned_s
            ));
        }
    }
    for (k, limit) in table.limits.iter().enumerate() {
        lines.push(format!("limit {}: {}", k + 1, plain(limit)));
    }
    lines.push("Nothing is good by default. Decision support only, not a safety function.".to_owned());
    lines.iter().map(|line| format!("(* {line} *)\n")).collect()
}

/// A number that reads back as the same.
fn literal(x: f64) -> String {
    let text = format!("{x:?}");
    match text.split_once('e') {
        Some((mantissa, power)) if mantissa.contains('.') => format!("{mantissa}E{power}"),
        Some((mantissa, power)) => format!("{mantissa}.0E{power}"),
        None => text,
    }
}

fn array(out: &mut String, name: &str, values: &[f64]) {
    list(
        out,
        name,
        "LREAL",
        &values.iter().map(|x| literal(*x)).collect::<Vec<_>>(),
    );
}

fn whole(out: &mut String, name: &str, kind: &str, values: &[usize]) {
    list(
        out,
        name,
        kind,
        &values.iter().map(usize::to_string).collect::<Vec<_>>(),
    );
}

fn list(out: &mut String, name: &str, kind: &str, values: &[String]) {
    let lines: Vec<String> = values.chunks(A_LINE).map(|line| line.join(", ")).collect();
    let count = values.len();
    let _ = writeln!(
        out,
        "    {name} : ARRAY [1..{count}] OF {kind} := [\n        {}];",
        lines.join(",\n        ")
    );
}

/// What the sum may err for the change in `rWork` after those before it.
const ERRS: &str = "                IF rWork >= 0.0 THEN
                    rErrs := Gains[iMargin] * SumError[3 * iMargin - 2] + Losses[iMargin] * SumError[3 * iMargin];
                ELSE
                    rErrs := Losses[iMargin] * SumError[3 * iMargin - 1] + Gains[iMargin] * SumError[3 * iMargin];
                END_IF;";

/// What the block does.
const BODY: &str = r"
State := 0; LimitNo := 0; MarginK := 0.0; UntilS := 0.0;
rSlack := 1.0E-9 * (ExitAt[{exits}] - ExitAt[1]);
Inside := (ExitC >= ExitAt[1] - rSlack) AND (ExitC <= ExitAt[{exits}] + rSlack) AND (Done >= 0) AND (Done <= {stages});
IF Inside THEN
    (* margins at this exit with planned times *)
    rExit := ExitC;
    IF rExit < ExitAt[1] THEN rExit := ExitAt[1]; END_IF;
    IF rExit > ExitAt[{exits}] THEN rExit := ExitAt[{exits}]; END_IF;
    iRow := 1;
    FOR iAt := 2 TO {exits} - 1 DO
        IF ExitAt[iAt] <= rExit THEN iRow := iAt; END_IF;
    END_FOR;
    rExitShare := (rExit - ExitAt[iRow]) / (ExitAt[iRow + 1] - ExitAt[iRow]);
    FOR iMargin := 1 TO {rows} DO
        rLow := Base[(iRow - 1) * {rows} + iMargin];
        rHigh := Base[iRow * {rows} + iMargin];
        Margin[iMargin] := rLow + rExitShare * (rHigh - rLow);
        Before[iMargin] := Margin[iMargin];
    END_FOR;
    (* what the hand-overs done so far change *)
    FOR iStep := 1 TO Done DO
        IF Inside THEN
            nAt := CountAt[iStep];
            iFirst := FirstAt[iStep];
            rSeconds := Seconds[iStep];
            rSlack := 1.0E-9 * (SecondsAt[iFirst + nAt] - SecondsAt[iFirst + 1]);
            Inside := (rSeconds >= SecondsAt[iFirst + 1] - rSlack) AND (rSeconds <= SecondsAt[iFirst + nAt] + rSlack);
        END_IF;
        IF Inside THEN
            IF rSeconds < SecondsAt[iFirst + 1] THEN rSeconds := SecondsAt[iFirst + 1]; END_IF;
            IF rSeconds > SecondsAt[iFirst + nAt] THEN rSeconds := SecondsAt[iFirst + nAt]; END_IF;
            iCol := 1;
            FOR iAt := 2 TO nAt - 1 DO
                IF SecondsAt[iFirst + iAt] <= rSeconds THEN iCol := iAt; END_IF;
            END_FOR;
            rShare := (rSeconds - SecondsAt[iFirst + iCol]) / (SecondsAt[iFirst + iCol + 1] - SecondsAt[iFirst + iCol]);
            FOR iMargin := 1 TO {rows} DO
                iLow := FirstChange[iStep] + ((iRow - 1) * nAt + iCol - 1) * {rows} + iMargin;
                iHigh := iLow + nAt * {rows};
                rLow := Change[iLow] + rShare * (Change[iLow + {rows}] - Change[iLow]);
                rHigh := Change[iHigh] + rShare * (Change[iHigh + {rows}] - Change[iHigh]);
                rWork := rLow + rExitShare * (rHigh - rLow);
                Done_K[(iStep - 1) * {rows} + iMargin] := rWork;
                Weight[iMargin] := 1.0;
                Gains[iMargin] := 0.0;
                Losses[iMargin] := 0.0;
                FOR iAt := 1 TO iStep - 1 DO
                    Weight[iMargin] := Weight[iMargin]
                        + Pair[FirstPair[iStep] + (iAt - 1) * {rows} + iMargin] * Done_K[(iAt - 1) * {rows} + iMargin];
                    IF Done_K[(iAt - 1) * {rows} + iMargin] >= 0.0 THEN
                        Gains[iMargin] := Gains[iMargin] + Done_K[(iAt - 1) * {rows} + iMargin];
                    ELSE
                        Losses[iMargin] := Losses[iMargin] - Done_K[(iAt - 1) * {rows} + iMargin];
                    END_IF;
                END_FOR;
{errs}
                iError := FirstError[iStep] + (iCol - 1) * {rows} + iMargin;
                rLast := ChangeError[iError] + rShare * (ChangeError[iError + {rows}] - ChangeError[iError]);
                Before[iMargin] := Margin[iMargin];
                Margin[iMargin] := Margin[iMargin] + ((rWork * Weight[iMargin] - ABS(rWork) * rErrs) - rLast);
            END_FOR;
        END_IF;
    END_FOR;
END_IF;
IF Inside THEN
    (* the tightest limit, and the least margin with the alarm guard *)
    FOR iMargin := 1 TO {rows} DO
        rWork := Margin[iMargin] - (Guard[LimitOf[iMargin]] + TableError[(iRow - 1) * {rows} + iMargin]);
        IF (iMargin = 1) OR (rWork < MarginK) THEN MarginK := rWork; LimitNo := LimitOf[iMargin]; END_IF;
        rWork := Margin[iMargin] - (AlarmGuard[LimitOf[iMargin]] + TableError[(iRow - 1) * {rows} + iMargin]);
        IF (iMargin = 1) OR (rWork < rAlarm) THEN rAlarm := rWork; iAlarm := LimitOf[iMargin]; END_IF;
    END_FOR;
    IF MarginK >= 0.0 THEN
        State := 1;
        IF rAlarm < 0.0 THEN State := 3; LimitNo := iAlarm; END_IF;
    ELSE
        State := 4;
    END_IF;
END_IF;
IF (State = 4) AND (Done > 0) THEN
    (* too hot now: is there a time from which on every limit holds? *)
    iStep := Done;
    nAt := CountAt[iStep];
    iFirst := FirstAt[iStep];
    FOR iCol := 1 TO nAt - 1 DO
        rFrom := SecondsAt[iFirst + iCol];
        rTo := SecondsAt[iFirst + iCol + 1];
        IF (State = 4) AND (rTo >= Seconds[iStep]) THEN
            rTry := rFrom;
            IF rTry < Seconds[iStep] THEN rTry := Seconds[iStep]; END_IF;
            FOR iMargin := 1 TO {rows} DO
                iLow := FirstChange[iStep] + ((iRow - 1) * nAt + iCol - 1) * {rows} + iMargin;
                iHigh := iLow + nAt * {rows};
                rLow := Before[iMargin] - (Guard[LimitOf[iMargin]] + TableError[(iRow - 1) * {rows} + iMargin]);
                iError := FirstError[iStep] + (iCol - 1) * {rows} + iMargin;
                rWork := Change[iLow] + rExitShare * (Change[iHigh] - Change[iLow]);
{errs}
                LowEnd[iMargin] := rLow + ((rWork * Weight[iMargin] - ABS(rWork) * rErrs) - ChangeError[iError]);
                rWork := Change[iLow + {rows}] + rExitShare * (Change[iHigh + {rows}] - Change[iLow + {rows}]);
{errs}
                HighEnd[iMargin] := rLow + ((rWork * Weight[iMargin] - ABS(rWork) * rErrs) - ChangeError[iError + {rows}]);
                rHere := LowEnd[iMargin] + (rTry - rFrom) / (rTo - rFrom) * (HighEnd[iMargin] - LowEnd[iMargin]);
                rLast := HighEnd[iMargin];
                IF (rHere < 0.0) AND (rLast > rHere) THEN
                    rTry := rTry + (rTo - rTry) * (0.0 - rHere) / (rLast - rHere);
                END_IF;
            END_FOR;
            rWork := rTry * 10.0 - 1.0E-6;
            iTenth := TRUNC(rWork);
            IF DINT_TO_LREAL(iTenth) < rWork THEN iTenth := iTenth + 1; END_IF;
            rTry := DINT_TO_LREAL(iTenth) / 10.0;
            Fits := rTry <= rTo;
            FOR iMargin := 1 TO {rows} DO
                rHere := LowEnd[iMargin] + (rTry - rFrom) / (rTo - rFrom) * (HighEnd[iMargin] - LowEnd[iMargin]);
                IF NOT (rHere >= {rounding}) THEN Fits := FALSE; END_IF;
            END_FOR;
            IF Fits THEN
                State := 2;
                UntilS := rTry;
            END_IF;
        END_IF;
    END_FOR;
END_IF;
END_FUNCTION_BLOCK
";
