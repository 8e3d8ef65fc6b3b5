//! Fits a logistic curve by Newton's method: how sure a first choice is.

/// What the curve is told of one choice, whether the choice was right (1) or not (0), and its weight.
pub type Case<const N: usize> = ([f64; N], f64, f64);

/// Steps of Newton's method; it has long settled by then.
const STEPS: usize = 30;
/// Strength of the pull of the curve's weights towards 0, against the sum of all samples' weights.
const RIDGE: f64 = 1e-4;

pub fn fit<const N: usize>(cases: &[Case<N>]) -> [f32; N] {
    let mut w = [0.0; N];
    for _ in 0..STEPS {
        newton_step(cases, &mut w);
    }
    w.map(|x| x as f32)
}

fn newton_step<const N: usize>(data: &[Case<N>], w: &mut [f64; N]) {
    let total: f64 = data.iter().map(|d| d.2).sum();
    let mut gradient = w.map(|x| RIDGE * total * x);
    let mut hessian = [[0.0; N]; N];
    (0..N).for_each(|k| hessian[k][k] = RIDGE * total);
    for (x, y, weight) in data {
        let z: f64 = x.iter().zip(w.iter()).map(|(x, w)| x * w).sum();
        let p = 1.0 / (1.0 + (-z).exp());
        for a in 0..N {
            gradient[a] += weight * (p - y) * x[a];
            for b in 0..N {
                hessian[a][b] += weight * p * (1.0 - p) * x[a] * x[b];
            }
        }
    }
    let step = solve(hessian, gradient);
    w.iter_mut().zip(step).for_each(|(w, s)| *w -= s);
}

/// Gaussian elimination with pivoting.
fn solve<const N: usize>(mut a: [[f64; N]; N], mut b: [f64; N]) -> [f64; N] {
    for k in 0..N {
        let pivot = (k..N)
            .max_by(|&i, &j| a[i][k].abs().total_cmp(&a[j][k].abs()))
            .unwrap_or(k);
        a.swap(k, pivot);
        b.swap(k, pivot);
        for i in k + 1..N {
            let f = a[i][k] / a[k][k];
            for j in k..N {
                a[i][j] -= f * a[k][j];
            }
            b[i] -= f * b[k];
        }
    }
    for k in (0..N).rev() {
        for j in k + 1..N {
            b[k] -= a[k][j] * b[j];
        }
        b[k] /= a[k][k];
    }
    b
}
