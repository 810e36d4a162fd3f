//! The least squares against certified values: NIST Statistical Reference Datasets, nonlinear regression (data and
//! certified values are work of the US government), and the calibration of a thermometer of JCGM 100:2008, H.3.

use billet_thermal::inside::measured::least::{End, Found, from_starts, search};

fn close(found: f64, certified: f64, relative: f64) {
    assert!(
        (found / certified - 1.0).abs() < relative,
        "{found} against {certified}"
    );
}

/// Residuals of a model over a table, searched from a start.
fn of(model: fn(&[f64], f64) -> f64, data: &[(f64, f64)], start: &[f64]) -> Found {
    let data = data.to_vec();
    let residuals = move |b: &[f64]| Some(data.iter().map(|(x, y)| model(b, *x) - y).collect::<Vec<f64>>());
    search(&residuals, start, start).unwrap()
}

/// Standard deviations of the parameters as NIST gives them: residual variance times the inverse of the normal matrix.
fn deviations(found: &Found) -> Vec<f64> {
    let (n, p) = (found.residuals.len(), found.x.len());
    let j = &found.jacobian;
    let normal = j.t().dot(j);
    // Gauss and Jordan with scaling: these matrices are small and bad.
    let scale: Vec<f64> = (0..p).map(|k| normal[[k, k]].sqrt()).collect();
    let mut a = vec![vec![0.0; 2 * p]; p];
    for i in 0..p {
        for k in 0..p {
            a[i][k] = normal[[i, k]] / (scale[i] * scale[k]);
        }
        a[i][p + i] = 1.0;
    }
    for i in 0..p {
        let pivot = (i..p).max_by(|r, s| a[*r][i].abs().total_cmp(&a[*s][i].abs())).unwrap();
        a.swap(i, pivot);
        let d = a[i][i];
        a[i].iter_mut().for_each(|v| *v /= d);
        let row = a[i].clone();
        for (k, other) in a.iter_mut().enumerate() {
            if k != i {
                let f = other[i];
                other.iter_mut().zip(&row).for_each(|(v, r)| *v -= f * r);
            }
        }
    }
    let variance = found.squares / (n - p) as f64;
    (0..p).map(|k| (variance * a[k][p + k]).sqrt() / scale[k]).collect()
}

/// NIST StRD DanWood (lower difficulty).
#[test]
fn dan_wood() {
    let data = [
        (1.309, 2.138),
        (1.471, 3.421),
        (1.490, 3.597),
        (1.565, 4.340),
        (1.611, 4.882),
        (1.680, 5.660),
    ];
    for start in [[1.0, 5.0], [0.7, 4.0]] {
        let found = of(|b, x| b[0] * x.powf(b[1]), &data, &start);
        assert_eq!(found.end, End::Converged);
        close(found.x[0], 7.688_622_617_6e-1, 1e-8);
        close(found.x[1], 3.860_405_587_1, 1e-8);
        close(found.squares, 4.317_308_408_3e-3, 1e-9);
        let sd = deviations(&found);
        close(sd[0], 1.828_197_386_0e-2, 1e-6);
        close(sd[1], 5.172_661_091_3e-2, 1e-6);
    }
}

const MISRA: [(f64, f64); 14] = [
    (77.6, 10.07),
    (114.9, 14.73),
    (141.1, 17.94),
    (190.8, 23.93),
    (239.9, 29.61),
    (289.0, 35.18),
    (332.8, 40.02),
    (378.4, 44.82),
    (434.8, 50.76),
    (477.3, 55.05),
    (536.8, 61.01),
    (593.1, 66.40),
    (689.1, 75.47),
    (760.0, 81.78),
];

/// NIST StRD Misra1a (lower difficulty).
#[test]
fn misra_1a() {
    for start in [[500.0, 1e-4], [250.0, 5e-4]] {
        let found = of(|b, x| b[0] * (1.0 - (-b[1] * x).exp()), &MISRA, &start);
        assert_eq!(found.end, End::Converged);
        close(found.x[0], 2.389_421_291_8e2, 1e-7);
        close(found.x[1], 5.501_564_318_1e-4, 1e-7);
        close(found.squares, 1.245_513_889_4e-1, 1e-9);
        let sd = deviations(&found);
        close(sd[0], 2.707_007_524_1, 1e-5);
        close(sd[1], 7.266_868_843_6e-6, 1e-5);
    }
}

/// NIST StRD BoxBOD (higher difficulty): from its first start the search may lose an unknown; it must say so, and two
/// starts together must find the certified values.
#[test]
fn box_bod() {
    let data = [
        (1.0, 109.0),
        (2.0, 149.0),
        (3.0, 149.0),
        (5.0, 191.0),
        (7.0, 213.0),
        (10.0, 224.0),
    ];
    let model = |b: &[f64], x: f64| b[0] * (1.0 - (-b[1] * x).exp());
    let certified = |found: &Found| {
        close(found.x[0], 2.138_094_088_9e2, 1e-7);
        close(found.x[1], 5.472_374_854_2e-1, 1e-7);
        close(found.squares, 1.168_008_876_6e3, 1e-9);
    };
    let hard = of(model, &data, &[1.0, 1.0]);
    if hard.end == End::Converged {
        certified(&hard);
    }
    let residuals = move |b: &[f64]| Some(data.iter().map(|(x, y)| model(b, *x) - y).collect::<Vec<f64>>());
    let (found, _) = from_starts(&residuals, &[vec![1.0, 1.0], vec![100.0, 0.75]], &[100.0, 1.0]).unwrap();
    assert_eq!(found.end, End::Converged);
    certified(&found);
    let sd = deviations(&found);
    close(sd[0], 1.235_451_517_6e1, 1e-5);
    close(sd[1], 1.045_599_323_7e-1, 1e-5);
}

/// NIST StRD MGH09 (higher difficulty).
#[test]
fn mgh_09() {
    let data = [
        (4.0, 1.957e-1),
        (2.0, 1.947e-1),
        (1.0, 1.735e-1),
        (0.5, 1.6e-1),
        (0.25, 8.44e-2),
        (0.167, 6.27e-2),
        (0.125, 4.56e-2),
        (0.1, 3.42e-2),
        (0.0833, 3.23e-2),
        (0.0714, 2.35e-2),
        (0.0625, 2.46e-2),
    ];
    let model = |b: &[f64], x: f64| b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]);
    let found = of(model, &data, &[0.25, 0.39, 0.415, 0.39]);
    assert_eq!(found.end, End::Converged);
    for (found, certified) in found.x.iter().zip([
        1.928_069_345_8e-1,
        1.912_823_287_3e-1,
        1.230_565_069_3e-1,
        1.360_623_306_8e-1,
    ]) {
        close(*found, certified, 1e-5);
    }
    close(found.squares, 3.075_056_038_5e-4, 1e-8);
}

/// NIST StRD Bennett5 (higher difficulty): three unknowns that nearly depend on each other.
#[test]
fn bennett_5() {
    let text = include_str!("reference/bennett5.csv");
    let data: Vec<(f64, f64)> = text
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| {
            let (y, x) = line.split_once(',').unwrap();
            (x.parse().unwrap(), y.parse().unwrap())
        })
        .collect();
    assert_eq!(data.len(), 154);
    let model = |b: &[f64], x: f64| b[0] * (b[1] + x).powf(-1.0 / b[2]);
    let found = of(model, &data, &[-1500.0, 45.0, 0.85]);
    close(found.squares, 5.240_474_407_3e-4, 1e-6);
    close(found.x[0], -2.523_505_804_3e3, 2e-2);
    close(found.x[1], 4.673_656_464_4e1, 2e-3);
    close(found.x[2], 9.321_848_319_3e-1, 2e-3);
}

/// JCGM 100:2008, H.3, Table H.6: a thermometer's correction y1 + y2 (t - 20).
#[test]
fn calibration_of_a_thermometer() {
    let t = [
        21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
    ];
    let b = [
        -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
    ];
    let data: Vec<(f64, f64)> = t.into_iter().zip(b).collect();
    let found = of(|y, t| y[0] + y[1] * (t - 20.0), &data, &[-0.1, 0.01]);
    assert_eq!(found.end, End::Converged);
    assert!(
        (found.x[0] + 0.1712).abs() < 5e-5 && (found.x[1] - 0.00218).abs() < 5e-6,
        "{:?}",
        found.x
    );
    let sd = deviations(&found);
    assert!(
        (sd[0] - 0.0029).abs() < 5e-5 && (sd[1] - 0.00067).abs() < 5e-6,
        "{sd:?}"
    );
    let s = (found.squares / 9.0).sqrt();
    assert!((s - 0.0035).abs() < 5e-5);
    assert!((found.x[0] + 10.0 * found.x[1] + 0.1494).abs() < 5e-5);
}
