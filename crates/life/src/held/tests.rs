use super::*;
use sealspan_numeric::jet::{Jet, Scalar};

/// A likelihood of two parameters.
struct Hill<F>(F);

impl<F: Fn([Jet<2>; 2]) -> Jet<2> + Sync> LogLikelihood for Hill<F> {
    fn value(&self, x: &[f64]) -> f64 {
        self.derivatives(x).value
    }
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        (self.0)(Jet::variables([x[0], x[1]])).into()
    }
    fn weight(&self) -> f64 {
        1.0
    }
}

/// Of the first parameter about 7 with this error, and the second about 2 with error 1.
fn normal(error: f64) -> Hill<impl Fn([Jet<2>; 2]) -> Jet<2> + Sync> {
    Hill(move |[x, y]: [Jet<2>; 2]| {
        let (a, b) = ((x - 7.0) * (1.0 / error), y - 2.0);
        (a * a + b * b) * -0.5
    })
}

fn first(x: &[f64]) -> Derivatives {
    let [x, _] = Jet::<2>::variables([x[0], x[1]]);
    x.into()
}

fn nowhere(_: &[f64]) -> bool {
    false
}

const EVERYWHERE: Region<'static> = Region {
    far: &|_| false,
    closes_in: &nowhere,
    changed_places: &nowhere,
};

fn walking<'a, P>(problem: &'a P, side: f64, error: f64, region: &'a Region<'a>) -> Walk<'a, P> {
    Walk {
        problem,
        quantity: &first,
        side,
        cut: -0.5 * 1.65 * 1.65,
        error,
        region,
    }
}

fn broken() -> Broken {
    Broken {
        value: 7.0,
        x: vec![7.0, 2.0],
    }
}

#[test]
fn a_held_value_may_lie_far_from_nought() {
    let hill = Hill(|[x, y]: [Jet<2>; 2]| {
        let (a, b) = (x - 100.0, y - 2.0);
        (a * a + a * b + b * b) * -0.5
    });
    let held = maximum(&hill, &first, &[100.0, 2.0], 100.5).unwrap();
    // With a = 0.5 held the rest is greatest at b = −a/2.
    assert!((held.x[0] - 100.5).abs() < 1e-9 && (held.x[1] - 1.75).abs() < 1e-9);
    assert!((held.value + 0.5 * 0.75 * 0.25).abs() < 1e-9);
}

/// A bent quantity held a hundredth from its estimate, from the estimate on: the best along the line of points that
/// have it, by halving.
#[test]
fn a_bent_quantity_is_held_close_to_its_estimate() {
    let hill = normal(1.0);
    let quantity = |x: &[f64]| -> Derivatives {
        let [x, y] = Jet::<2>::variables([x[0], x[1]]);
        (x + y * 0.3 + x * y * 0.2).into()
    };
    let estimate = quantity(&[7.0, 2.0]).value;
    for target in [estimate + 0.01, estimate - 0.01, estimate + 0.5] {
        let held = maximum(&hill, &quantity, &[7.0, 2.0], target).unwrap();
        assert!((quantity(&held.x).value - target).abs() < 1e-7);
        let along = |y: f64| hill.value(&[(target - 0.3 * y) / (1.0 + 0.2 * y), y]);
        let (mut low, mut high) = (1.0, 3.0);
        while high - low > 1e-7 {
            let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            if along(a) < along(b) {
                low = a;
            } else {
                high = b;
            }
        }
        assert!((held.value - along(low)).abs() < 1e-9, "{target}");
    }
}

/// Both ends of a normal likelihood lie 1.65 errors off, whatever the error.
#[test]
fn a_walk_ends_where_the_likelihood_has_fallen() {
    for error in [0.01, 1.0, 5.0] {
        for side in [1.0, -1.0] {
            let hill = normal(error);
            let contour = Contour {
                likelihood: &hill,
                quantity: &first,
                top: 0.0,
                centre: DVector::from_vec(vec![7.0, 2.0]),
                covariance: DMatrix::from_diagonal(&DVector::from_vec(vec![error * error, 1.0])),
                side,
            };
            let end = walk(&hill, &first, &contour, &broken(), 1.65, &EVERYWHERE).unwrap();
            let off = (end - 7.0) / error - 1.65 * side;
            assert!(off.abs() < 2e-4, "{error} {side}: {off}");
        }
    }
}

/// Steps shrink where they would go too far: to where the law closes in, or beyond the likelihood's range.
#[test]
fn a_walk_takes_shorter_steps_where_longer_ones_fail() {
    let closing = Region {
        closes_in: &|x| x[0] > 8.7,
        ..EVERYWHERE
    };
    let ends_there = Hill(|[x, y]: [Jet<2>; 2]| {
        let (a, b) = (x - 7.0, y - 2.0);
        if a.value > 1.7 {
            Jet::constant(f64::NAN)
        } else {
            (a * a + b * b) * -0.5
        }
    });
    let hill = normal(1.0);
    let ends = [
        walking(&hill, 1.0, 1.0, &closing).from(&broken()),
        walking(&ends_there, 1.0, 1.0, &EVERYWHERE).from(&broken()),
    ];
    for end in ends {
        let end = end.unwrap();
        assert!((end - 8.65).abs() < 2e-4, "{end}");
    }
}

/// A climb that pays for straying comes to the value held, whatever the error.
#[test]
fn a_penalised_climb_comes_to_the_value_held() {
    for error in [0.01, 1.0, 5.0] {
        let hill = normal(error);
        let walk = walking(&hill, 1.0, error, &EVERYWHERE);
        let held = walk.penalised(&[7.0, 2.0], 7.0 + 1.5 * error).unwrap();
        let off = (held.x[0] - 7.0) / error - 1.5;
        assert!(off.abs() < 1.01e-4, "{error}: {off}");
        assert!((held.value + 1.125).abs() < 1e-3);
    }
}

/// From between two ridges Newton's conditions lead to the valley, and the climb to the higher one, which counts.
#[test]
fn of_two_places_with_the_value_held_the_likelier_counts() {
    let ridges = |y: f64| -3.0 * (y * y - 1.0).powi(2) + 0.5 * y;
    let hill = Hill(|[x, y]: [Jet<2>; 2]| {
        let (a, b) = (x - 7.0, y * y - 1.0);
        a * a * -0.5 - b * b * 3.0 + y * 0.5
    });
    let held = walking(&hill, 1.0, 1.0, &EVERYWHERE)
        .held(&[7.0, 0.0], 7.5)
        .unwrap();
    let best = (0..4000).map(|i| ridges(f64::from(i) / 1000.0 - 2.0));
    let best = best.fold(f64::NEG_INFINITY, f64::max) - 0.125;
    assert!((held.value - best).abs() < 1e-4, "{} {best}", held.value);
}

/// A quantity that is no number from 7.5 on runs off upwards where the likelihood admits that point, and then only.
#[test]
fn a_quantity_runs_off_where_no_number_is_admitted() {
    let until = |x: &[f64]| -> Derivatives {
        let [x, _] = Jet::<2>::variables([x[0], x[1]]);
        (if x.value < 7.5 {
            x
        } else {
            Jet::constant(f64::NAN)
        })
        .into()
    };
    for (error, side, off) in [(1.0, 1.0, true), (1.0, -1.0, false), (0.1, 1.0, false)] {
        let hill = normal(error);
        let walk = Walk {
            quantity: &until,
            ..walking(&hill, side, error, &EVERYWHERE)
        };
        assert_eq!(walk.runs_off(&[7.0, 2.0]), off, "{error} {side}");
    }
}

/// What pays for straying counts as many seals as the likelihood itself.
#[test]
fn a_penalty_leaves_the_number_of_seals() {
    struct Seals(f64);
    impl LogLikelihood for Seals {
        fn value(&self, x: &[f64]) -> f64 {
            normal(1.0).value(x)
        }
        fn derivatives(&self, x: &[f64]) -> Derivatives {
            normal(1.0).derivatives(x)
        }
        fn weight(&self) -> f64 {
            self.0
        }
    }
    let seals = Seals(40.0);
    assert_eq!(
        walking(&seals, 1.0, 1.0, &EVERYWHERE).paying(8.0).weight(),
        40.0
    );
}

/// A way that is lost has the reason first met on it.
#[test]
fn a_lost_way_has_its_reason() {
    let hill = normal(1.0);
    for (closes_in, changed, why) in [
        (false, false, NoEnd::NotFound),
        (false, true, NoEnd::ChangedPlaces),
        (true, false, NoEnd::ClosesIn),
        (true, true, NoEnd::ClosesIn),
    ] {
        let region = Region {
            closes_in: &|_: &[f64]| closes_in,
            changed_places: &|_: &[f64]| changed,
            ..EVERYWHERE
        };
        assert_eq!(
            walking(&hill, 1.0, 1.0, &region).lost(&[7.0, 2.0], 8.0),
            why
        );
    }
}

/// A penalised climb pays for straying by half its weight times the square, in the value and in both slopes.
#[test]
fn straying_is_paid_for_by_its_square() {
    let hill = normal(2.0);
    let bent = |x: &[f64]| -> Derivatives {
        let [x, y] = Jet::<2>::variables([x[0], x[1]]);
        (x + y * 0.3 + x * y * 0.2).into()
    };
    let walk = Walk {
        quantity: &bent,
        ..walking(&hill, 1.0, 0.5, &EVERYWHERE)
    };
    let paying = walk.paying(12.0);
    let at = [7.5, 2.4];
    let off = bent(&at).value - 12.0;
    let want = hill.value(&at) - 0.5 * PENALTY / 0.25 * off * off;
    assert!((paying.value(&at) - want).abs() < 1e-9 * want.abs());
    let found = paying.derivatives(&at);
    assert!((found.value - want).abs() < 1e-9 * want.abs());
    let h = 1e-4;
    for i in 0..2 {
        let moved = |h: f64| {
            let mut x = at;
            x[i] += h;
            x
        };
        let slope = (paying.value(&moved(h)) - paying.value(&moved(-h))) / (2.0 * h);
        assert!((found.gradient[i] / slope - 1.0).abs() < 1e-6, "{i}");
        let (up, down) = (
            paying.derivatives(&moved(h)).gradient,
            paying.derivatives(&moved(-h)).gradient,
        );
        for j in 0..2 {
            let bend = (up[j] - down[j]) / (2.0 * h);
            assert!((found.hessian[i][j] / bend - 1.0).abs() < 1e-6, "{i} {j}");
        }
    }
}
