//! Minimisation: limited-memory BFGS with a strong-Wolfe line search, and a Newton polish.
//!
//! Nocedal and Wright, Numerical Optimization, 2nd ed., algorithms 3.5, 3.6 and 7.4 (from memory).

/// Pairs of steps remembered.
const MEMORY: usize = 12;
const SUFFICIENT_DECREASE: f64 = 1e-4;
const CURVATURE: f64 = 0.9;

/// When to stop.
#[derive(Debug, Clone, Copy)]
pub struct Stop {
    /// Largest number of value-and-gradient calls.
    pub max_evaluations: usize,
    /// Largest absolute gradient component, in scaled coordinates, that counts as flat.
    pub gradient: f64,
}

/// Where the search ended.
#[derive(Debug, Clone)]
pub struct Minimum {
    /// The point.
    pub x: Vec<f64>,
    /// Value there.
    pub value: f64,
    /// Gradient there.
    pub gradient: Vec<f64>,
    /// Calls used.
    pub evaluations: usize,
    /// Whether the gradient test was met.
    pub flat: bool,
}

struct Point {
    x: Vec<f64>,
    value: f64,
    gradient: Vec<f64>,
}

/// Minimises `f` (value, gradient written to its second argument) from `start`.
pub fn lbfgs(start: Vec<f64>, stop: Stop, mut f: impl FnMut(&[f64], &mut [f64]) -> f64) -> Minimum {
    let n = start.len();
    let mut evaluations = 0;
    let mut evaluate = |x: Vec<f64>| {
        let mut gradient = vec![0.0; n];
        let value = f(&x, &mut gradient);
        evaluations += 1;
        (Point { x, value, gradient }, evaluations)
    };
    let (mut here, mut used) = evaluate(start);
    let mut pairs: Vec<(Vec<f64>, Vec<f64>, f64)> = Vec::new();
    while used < stop.max_evaluations && largest(&here.gradient) > stop.gradient && here.value.is_finite() {
        let mut direction = two_loop(&here.gradient, &pairs);
        if dot(&direction, &here.gradient) >= 0.0 {
            pairs.clear();
            direction = here.gradient.iter().map(|g| -g).collect();
        }
        let first = if pairs.is_empty() { (1.0 / largest(&direction)).min(1.0) } else { 1.0 };
        let Some((next, count)) = line_search(&here, &direction, first, &mut evaluate) else {
            if pairs.is_empty() {
                break;
            }
            pairs.clear();
            continue;
        };
        used = count;
        let s: Vec<f64> = next.x.iter().zip(&here.x).map(|(a, b)| a - b).collect();
        let y: Vec<f64> = next.gradient.iter().zip(&here.gradient).map(|(a, b)| a - b).collect();
        let sy = dot(&s, &y);
        if sy > 1e-12 * dot(&y, &y).sqrt() * dot(&s, &s).sqrt() {
            if pairs.len() == MEMORY {
                pairs.remove(0);
            }
            pairs.push((s, y, 1.0 / sy));
        }
        here = next;
    }
    let flat = largest(&here.gradient) <= stop.gradient;
    Minimum { x: here.x, value: here.value, gradient: here.gradient, evaluations: used, flat }
}

fn two_loop(gradient: &[f64], pairs: &[(Vec<f64>, Vec<f64>, f64)]) -> Vec<f64> {
    let mut q: Vec<f64> = gradient.to_vec();
    let mut alphas = Vec::with_capacity(pairs.len());
    for (s, y, rho) in pairs.iter().rev() {
        let alpha = rho * dot(s, &q);
        add_scaled(&mut q, -alpha, y);
        alphas.push(alpha);
    }
    if let Some((_, y, rho)) = pairs.last() {
        let scale = 1.0 / (rho * dot(y, y));
        for value in &mut q {
            *value *= scale;
        }
    }
    for ((s, y, rho), alpha) in pairs.iter().zip(alphas.iter().rev()) {
        let beta = rho * dot(y, &q);
        add_scaled(&mut q, alpha - beta, s);
    }
    q.into_iter().map(|v| -v).collect()
}

/// Strong-Wolfe search by bracketing and cubic steps; falls back to the lowest point met.
fn line_search(
    here: &Point,
    direction: &[f64],
    first: f64,
    evaluate: &mut impl FnMut(Vec<f64>) -> (Point, usize),
) -> Option<(Point, usize)> {
    let slope0 = dot(&here.gradient, direction);
    let (mut low, mut low_value, mut low_slope) = (0.0, here.value, slope0);
    let mut high: Option<(f64, f64, f64)> = None;
    let mut step = first;
    let mut best: Option<(Point, usize)> = None;
    for _ in 0..25 {
        let x: Vec<f64> = here.x.iter().zip(direction).map(|(x, d)| x + step * d).collect();
        let (point, used) = evaluate(x);
        let (value, slope) = (point.value, dot(&point.gradient, direction));
        let decreased = value.is_finite() && value <= here.value + SUFFICIENT_DECREASE * step * slope0;
        if decreased && slope.abs() <= -CURVATURE * slope0 {
            return Some((point, used));
        }
        if decreased && best.as_ref().is_none_or(|(b, _)| value < b.value) {
            best = Some((point, used));
        }
        if !decreased || value >= low_value {
            high = Some((step, value, slope));
        } else if slope >= 0.0 {
            high = Some((low, low_value, low_slope));
            (low, low_value, low_slope) = (step, value, slope);
        } else {
            (low, low_value, low_slope) = (step, value, slope);
        }
        step = match high {
            None => step * 2.5,
            Some(end) => between((low, low_value, low_slope), end),
        };
        if (step - low).abs() < 1e-14 * step.abs().max(1.0) {
            break;
        }
    }
    best
}

/// Cubic minimiser between two ends, kept off the ends; bisection when it is of no use.
fn between((a, fa, ga): (f64, f64, f64), (b, fb, gb): (f64, f64, f64)) -> f64 {
    let middle = 0.5 * (a + b);
    if !fb.is_finite() {
        return a + 0.1 * (b - a);
    }
    let d1 = ga + gb - 3.0 * (fa - fb) / (a - b);
    let root = d1 * d1 - ga * gb;
    if root < 0.0 {
        return middle;
    }
    let d2 = root.sqrt() * (b - a).signum();
    let step = b - (b - a) * (gb + d2 - d1) / (gb - ga + 2.0 * d2);
    let (low, high) = (a.min(b), a.max(b));
    let margin = 0.1 * (high - low);
    if step.is_finite() { step.clamp(low + margin, high - margin) } else { middle }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

fn add_scaled(a: &mut [f64], factor: f64, b: &[f64]) {
    for (x, y) in a.iter_mut().zip(b) {
        *x += factor * y;
    }
}

fn largest(a: &[f64]) -> f64 {
    a.iter().fold(0.0, |m, v| if v.is_nan() { f64::INFINITY } else { m.max(v.abs()) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_minimum_of_the_banana_function() {
        // Rosenbrock 1960, minimum at (1, 1).
        let found = lbfgs(vec![-1.2, 1.0], Stop { max_evaluations: 300, gradient: 1e-9 }, |x, g| {
            g[0] = -400.0 * x[0] * (x[1] - x[0] * x[0]) - 2.0 * (1.0 - x[0]);
            g[1] = 200.0 * (x[1] - x[0] * x[0]);
            100.0 * (x[1] - x[0] * x[0]).powi(2) + (1.0 - x[0]).powi(2)
        });
        assert!(found.flat && (found.x[0] - 1.0).abs() < 1e-6 && (found.x[1] - 1.0).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn backs_away_from_where_the_function_is_not_defined() {
        let found = lbfgs(vec![3.0], Stop { max_evaluations: 100, gradient: 1e-10 }, |x, g| {
            if x[0] <= 0.0 {
                return f64::INFINITY;
            }
            g[0] = 1.0 - 0.01 / x[0];
            x[0] - 0.01 * x[0].ln()
        });
        assert!((found.x[0] - 0.01).abs() < 1e-6, "{found:?}");
    }
}
