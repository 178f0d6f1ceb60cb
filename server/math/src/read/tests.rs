//! Formulas in, structure out.
//!
//! The structure is that of [`Expression`](crate::Expression)'s debug form. Faults are shown below
//! the formula, with a line of carets under what each is about.

use super::{Declared, read};

/// The formula reads without doubt as this structure.
#[track_caller]
fn check(tex: &str, structure: &str) {
    check_declared(tex, &Declared::new(), structure);
}

#[track_caller]
fn check_declared(tex: &str, declared: &Declared, structure: &str) {
    let reading = read(tex, declared);
    assert_eq!(format!("{:?}", reading.expression), structure, "{tex}");
    assert!(reading.is_certain(), "{tex}: {:?}", reading.diagnostics);
}

/// A formula in the first line, its faults, and the structure in the last line.
#[track_caller]
fn check_fault(marked: &str) {
    let marked = marked.trim_matches('\n');
    let tex = marked.lines().next().unwrap_or_default();
    let reading = read(tex, &Declared::new());
    let mut found = format!("{tex}\n");
    for diagnostic in &reading.diagnostics {
        let before = tex[..diagnostic.range.start].chars().count();
        let length = tex[diagnostic.range.clone()].chars().count().max(1);
        found += &format!(
            "{}{} {:?}: {}\n",
            " ".repeat(before),
            "^".repeat(length),
            diagnostic.class,
            diagnostic.message
        );
    }
    found += &format!("{:?}", reading.expression);
    assert_eq!(found, marked);
}

#[test]
fn formulas_of_every_kind() {
    check(r"x^2+1", "(+ (^ x 2) 1)");
    check(r"-3x + 4y - 5", "(+ (- (* 3 x)) (* 4 y) (- 5))");
    check(r"\frac12 x", "(* (/ 1 2) x)");
    check(
        r"\sin^2 2x + \cos^2 2x = 1",
        "(= (+ (^ (sin (* 2 x)) 2) (^ (cos (* 2 x)) 2)) 1)",
    );
    check(
        r"y'' - 8y' + 16y = 0, \quad y(0)=1, \quad y'(0)=10",
        "(list (= (+ ('' y) (- (* 8 (' y))) (* 16 y)) 0) (= (apply y 0) 1) (= (apply (' y) 0) 10))",
    );
    check(r"y' = y(1-y)", "(= (' y) (* y (+ 1 (- y))))");
    check(r"f(x+h)-f(x)", "(+ (apply f (+ x h)) (- (apply f x)))");
    check(
        r"\lim_{x \to 0^+} \frac{\sin x}{x}",
        "(limit:above (/ (sin x) x) x 0)",
    );
    check(
        r"\int_0^1 x^2 + 1 \, dx = \frac43",
        "(= (integral (+ (^ x 2) 1) x 0 1) (/ 4 3))",
    );
    check(r"\int \frac{dx}{x}", "(integral (/ 1 x) x)");
    check(
        r"\int_0^1\int_0^x xy\,dy\,dx",
        "(integral (integral (* x y) y 0 x) x 0 1)",
    );
    check(r"\iint_D f\,dA", "(integral:2 f A D)");
    check(
        r"\int_C P\,dx + Q\,dy",
        "(integral:by0 (+ (* P (differential x)) (* Q (differential y))) C)",
    );
    check(
        r"\sum_{n=1}^\infty \frac{1}{n^2}",
        "(series:sum (/ 1 (^ n 2)) n 1 Infinity)",
    );
    check(
        r"\frac{d^2y}{dx^2} + 3\frac{dy}{dx} = 0",
        "(= (+ (d:2 y x) (* 3 (d:1 y x))) 0)",
    );
    check(r"\frac{d}{dx}[x^2 + 1]", "(d:1 (+ (^ x 2) 1) x)");
    check(
        r"\frac{\partial^2 u}{\partial x\,\partial t}",
        "(partial:1,1 u x t)",
    );
    check(
        r"\begin{bmatrix}1&2\\3&4\end{bmatrix}",
        "(matrix:2 1 2 3 4)",
    );
    check(
        r"\begin{cases}x+y=3\\x-y=1\end{cases}",
        "(system (= (+ x y) 3) (= (+ x (- y)) 1))",
    );
    check(
        r"f(x) = \begin{cases} x^2 & \text{if } x > 0 \\ 0 & \text{otherwise}\end{cases}",
        r#"(= (apply f x) (piecewise (^ x 2) (> x 0) 0 "otherwise"))"#,
    );
    check(r"|x-1| \le 3", "(≤ (abs (+ x (- 1))) 3)");
    check(r"||x|-1|", "(abs (+ (abs x) (- 1)))");
    check(
        r"(-\infty,-3)\cup[1,\infty)",
        "(union (interval:() (- Infinity) (- 3)) (interval:[) 1 Infinity))",
    );
    check(
        r"\{x \in \mathbb R : x > 0\}",
        "(setbuilder (∈ x Reals) (> x 0))",
    );
    check(r"\{x \mid |x| < 2\}", "(setbuilder x (< (abs x) 2))");
    check(
        r"2\frac13 + 1\frac{1}{2}",
        "(+ (mixed 2 1 3) (mixed 1 1 2))",
    );
    check(r"\cos \pi/4", "(cos (/ Pi 4))");
    check(r"x = 1 \text{ or } x = 2", "(or (= x 1) (= x 2))");
    check(r"\text{no solution}", r#""no solution""#);
    check(
        r"\left.\frac{x^2}{2}\right|_0^1",
        "(evaluatedat (/ (^ x 2) 2) 0 1)",
    );
    check(
        r"\mathcal{L}^{-1}\left\{\frac{1}{s}\right\}",
        "(apply (inversefunction cal:L) (/ 1 s))",
    );
    check(
        r"\operatorname{proj}_{(1,2,3)}(3,2,1)",
        "(apply (indexed roman:proj (tuple 1 2 3)) 3 2 1)",
    );
    check(r"\log_2 x + \ln|x|", "(+ (logbase x 2) (ln (abs x)))");
    check(
        r"M\,dx + N\,dy = 0",
        "(= (+ (* M (differential x)) (* N (differential y))) 0)",
    );
    check(r"5\sqrt[3]{x^2}", "(* 5 (nthroot (^ x 2) 3))");
    check(
        r"a_{n+1} = 2a_n + 1",
        "(= (indexed a (+ n 1)) (+ (* 2 (indexed a n)) 1))",
    );
    check(
        r"C_1 e^{4x} + C_2 x e^{4x}",
        "(+ (* C_1 (^ E (* 4 x))) (* C_2 x (^ E (* 4 x))))",
    );
    check(
        r"\begin{vmatrix}0 & 2 & 1 \\ 3 & -1 & 1 \\ 4 & 0 & 1\end{vmatrix}",
        "(determinant (matrix:3 0 2 1 3 (- 1) 1 4 0 1))",
    );
    check(r"x \equiv 3 \pmod 5", "(modulo (≡ x 3) 5)");
    check(r"45^\circ", "(degrees 45)");
    check(r"√(x+1) × 2 ≤ π²", "(≤ (* (root (+ x 1)) 2) (^ Pi 2))");
    check(r"1{,}000.5", "1000.5");
    check(r"\vec u \times \vec v", "(cross vec:u vec:v)");
    check(r"y^{(4)} - y = 0", "(= (+ ('''' y) (- y)) 0)");
}

#[test]
fn functions_derivatives_and_integrals() {
    check(r"\sin x \cos x", "(* (sin x) (cos x))");
    check(r"\sin 2x\cos 3x", "(* (sin (* 2 x)) (cos (* 3 x)))");
    check(
        r"2\sin x\cos x = \sin 2x",
        "(= (* 2 (sin x) (cos x)) (sin (* 2 x)))",
    );
    check(r"\sin(x)y", "(* (sin x) y)");
    check(r"x\sin x\, e^x", "(* x (sin x) (^ E x))");
    check(r"\sin x e^{2x}", "(* (sin x) (^ E (* 2 x)))");
    check(r"\cos\frac{n\pi x}{L}", "(cos (/ (* n Pi x) L))");
    check(r"\sin\frac{1}{x}", "(sin (/ 1 x))");
    check(r"\ln x^2y^3", "(ln (* (^ x 2) (^ y 3)))");
    check(
        r"\log_b (xy) = \log_b x + \log_b y",
        "(= (logbase (* x y) b) (+ (logbase x b) (logbase y b)))",
    );
    check(r"\sin^{-1}\frac12", "(arcsin (/ 1 2))");
    check(r"\tan^{-1}x + \arctan x", "(+ (arctan x) (arctan x))");
    check(r"e^{-x^2/2}", "(^ E (- (/ (^ x 2) 2)))");
    check(
        r"\frac{1}{\sqrt{2\pi}} e^{-x^2/2}",
        "(* (/ 1 (root (* 2 Pi))) (^ E (- (/ (^ x 2) 2))))",
    );
    check(r"\sqrt 2x", "(* (root 2) x)");
    check(
        r"f'(x) = \lim_{h\to0}\frac{f(x+h)-f(x)}{h}",
        "(= (apply (' f) x) (limit (/ (+ (apply f (+ x h)) (- (apply f x))) h) h 0))",
    );
    check(
        r"f''(x) + f'(x)^2",
        "(+ (apply ('' f) x) (^ (apply (' f) x) 2))",
    );
    check(
        r"(f\circ g)(x) = f(g(x))",
        "(= (apply (composition f g) x) (apply f (apply g x)))",
    );
    check(r"(f+g)(2)", "(apply (+ f g) 2)");
    check(r"f^{-1}(x)", "(apply (inversefunction f) x)");
    check(r"f^2(x)", "(^ (apply f x) 2)");
    check(r"g(x)=x^{2}", "(= (apply g x) (^ x 2))");
    check(
        r"P(A\mid B) = \frac{P(A\cap B)}{P(B)}",
        "(= (apply P (given A B)) (/ (apply P (intersection A B)) (apply P B)))",
    );
    check(r"P(X < 3)", "(apply P (< X 3))");
    check(r"P(A|B)", "(apply P (given A B))");
    check(r"x(x+1)(x+2)", "(* x (+ x 1) (+ x 2))");
    check(r"n(n+1)/2", "(/ (* n (+ n 1)) 2)");
    check(r"\frac{n(n+1)}{2}", "(/ (* n (+ n 1)) 2)");
    check(r"P(1+r)^t", "(* P (^ (+ 1 r) t))");
    check(
        r"\frac{dP}{dt} = kP(1 - P/K)",
        "(= (d:1 P t) (* k P (+ 1 (- (/ P K)))))",
    );
    check(
        r"\frac{dP}{dt} = kP\left(1-\frac{P}{K}\right), \quad P(0)=P_0",
        "(list (= (d:1 P t) (* k P (+ 1 (- (/ P K))))) (= (apply P 0) P_0))",
    );
    check(
        r"\dot x = x(1-y),\ \dot y = y(x-1)",
        "(list (= (' x) (* x (+ 1 (- y)))) (= (' y) (* y (+ x (- 1)))))",
    );
    check(r"(x+1)y' = y", "(= (* (+ x 1) (' y)) y)");
    check(
        r"y'+p(x)y=q(x)",
        "(= (+ (' y) (* (apply p x) y)) (apply q x))",
    );
    check(
        r"y = e^{\int p(x)\,dx}",
        "(= y (^ E (integral (apply p x) x)))",
    );
    check(
        r"s^2Y(s) - sy(0) - y'(0) + Y(s) = \frac1s",
        "(= (+ (* (^ s 2) (apply Y s)) (- (* s (apply y 0))) (- (apply (' y) 0)) (apply Y s)) (/ 1 s))",
    );
    check(
        r"\mathcal{L}\{f(t)\} = \int_0^\infty e^{-st}f(t)\,dt",
        "(= (apply cal:L (apply f t)) (integral (* (^ E (- (* s t))) (apply f t)) t 0 Infinity))",
    );
    check(
        r"u_t = k u_{xx}",
        "(= (partial:1 u t) (* k (partial:2 u x)))",
    );
    check(
        r"u_{tt} = c^2u_{xx}",
        "(= (partial:2 u t) (* (^ c 2) (partial:2 u x)))",
    );
    check(r"f_x(1,2)", "(apply (partial:1 f x) 1 2)");
    check(
        r"f_{xy} = f_{yx}",
        "(= (partial:1,1 f x y) (partial:1,1 f y x))",
    );
    check(r"v_x = 3", "(= v_x 3)");
    check(
        r"\frac{\partial f}{\partial x}(1,2)",
        "(apply (partial:1 f x) 1 2)",
    );
    check(
        r"\frac{dy}{dx}\Big|_{x=1}",
        "(evaluatedat (d:1 y x) (= x 1))",
    );
    check(
        r"\left.\frac{dy}{dx}\right|_{x=0} = 3",
        "(= (evaluatedat (d:1 y x) (= x 0)) 3)",
    );
    check(r"dy/dx = x/y", "(= (d:1 y x) (/ x y))");
    check(r"\frac{\mathrm{d}y}{\mathrm{d}x} = y", "(= (d:1 y x) y)");
    check(
        r"\frac{d}{dx}\sin x = \cos x",
        "(= (d:1 (sin x) x) (cos x))",
    );
    check(r"\frac{d}{dx}(x^2) \cdot y", "(* (d:1 (^ x 2) x) y)");
    check(
        r"\frac{d^2}{dx^2}\left(x e^x\right)",
        "(d:2 (* x (^ E x)) x)",
    );
    check(
        r"\frac{d}{dt}\int_0^t f(s)\,ds = f(t)",
        "(= (d:1 (integral (apply f s) s 0 t) t) (apply f t))",
    );
    check(
        r"\int \frac{x\,dx}{x^2+1}",
        "(integral (/ x (+ (^ x 2) 1)) x)",
    );
    check(
        r"\int x e^{x}dx = xe^x - e^x + C",
        "(= (integral (* x (^ E x)) x) (+ (* x (^ E x)) (- (^ E x)) C))",
    );
    check(
        r"\int \sin x\,dx = -\cos x + C",
        "(= (integral (sin x) x) (+ (- (cos x)) C))",
    );
    check(
        r"\int u\,dv = uv - \int v\,du",
        "(= (integral u v) (+ (* u v) (- (integral v u))))",
    );
    check(
        r"\int_0^{2\pi}\int_0^1 r\,dr\,d\theta",
        "(integral (integral r r 0 1) θ 0 (* 2 Pi))",
    );
    check(r"\iint_R x^2y\,dA", "(integral:2 (* (^ x 2) y) A R)");
    check(r"\iiint_E z\,dV", "(integral:3 z V letter:E)");
    check(
        r"\oint_C \mathbf{F}\cdot d\mathbf{r}",
        "(integral:closed:by0 (dot bold:F (differential bold:r)) C)",
    );
    check(
        r"\oint_C (P\,dx + Q\,dy) = \iint_D \left(\frac{\partial Q}{\partial x} - \frac{\partial P}{\partial y}\right) dA",
        "(= (integral:closed:by0 (+ (* P (differential x)) (* Q (differential y))) C) (integral:2 (+ (partial:1 Q x) (- (partial:1 P y))) A D))",
    );
    check(
        r"\int_a^b f = F(b)-F(a)",
        "(= (integral:by0 f a b) (+ (apply F b) (- (apply F a))))",
    );
    check(
        r"\int_0^1 \frac{1}{1+x^2}\,\mathrm{d}x",
        "(integral (/ 1 (+ 1 (^ x 2))) x 0 1)",
    );
    check(r"\int\limits_0^1 x\,dx", "(integral x x 0 1)");
    check(r"\int dx", "(integral 1 x)");
    check(
        r"\int e^{ax}\cos bx\,dx",
        "(integral (* (^ E (* a x)) (cos (* b x))) x)",
    );
    check(
        r"(2xy+1)dx + x^2dy = 0",
        "(= (+ (* (+ (* 2 x y) 1) (differential x)) (* (^ x 2) (differential y))) 0)",
    );
    check(
        r"\frac{dy}{y} = x\,dx",
        "(= (/ (differential y) y) (* x (differential x)))",
    );
    check(
        r"dy = 2x\,dx",
        "(= (differential y) (* 2 x (differential x)))",
    );
    check(
        r"ax^3+bx^2+cx+d=0",
        "(= (+ (* a (^ x 3)) (* b (^ x 2)) (* c x) d) 0)",
    );
    check(
        r"(ax+b)(cx+d) = acx^2 + adx + bcx + bd",
        "(= (* (+ (* a x) b) (+ (* c x) d)) (+ (* a c (^ x 2)) (* a d x) (* b c x) (* b d)))",
    );
    check(r"\lim_{x\to2} x^2+3x", "(limit (+ (^ x 2) (* 3 x)) x 2)");
    check(
        r"\lim_{x \to 0} \frac{\sin x}{x} + 1",
        "(+ (limit (/ (sin x) x) x 0) 1)",
    );
    check(
        r"\lim_{n\to\infty}\left(1+\frac1n\right)^n = e",
        "(= (limit (^ (+ 1 (/ 1 n)) n) n Infinity) E)",
    );
    check(
        r"\lim_{(x,y)\to(0,0)}\frac{xy}{x^2+y^2}",
        "(limit (/ (* x y) (+ (^ x 2) (^ y 2))) (tuple x y) (tuple 0 0))",
    );
    check(
        r"\lim_{x \to 3^-} \frac{|x-3|}{x-3}",
        "(limit:below (/ (abs (+ x (- 3))) (+ x (- 3))) x 3)",
    );
    check(r"\lim\limits_{x\to0}f(x)", "(limit (apply f x) x 0)");
    check(
        r"\lim_{x\to a} f(x) + \lim_{x\to a} g(x)",
        "(+ (limit (apply f x) x a) (limit (apply g x) x a))",
    );
    check(
        r"\sum_{k=1}^n k^2 = \frac{n(n+1)(2n+1)}{6}",
        "(= (series:sum (^ k 2) k 1 n) (/ (* n (+ n 1) (+ (* 2 n) 1)) 6))",
    );
    check(
        r"\sum_{i=1}^{n} i = \frac{n(n+1)}{2}",
        "(= (series:sum i i 1 n) (/ (* n (+ n 1)) 2))",
    );
    check(
        r"\sum_{n=0}^{\infty} a_n (x-c)^n",
        "(series:sum (* (indexed a n) (^ (+ x (- c)) n)) n 0 Infinity)",
    );
    check(
        r"\sum_{i=1}^n\sum_{j=1}^m a_{ij}",
        "(series:sum (series:sum (indexed a i j) j 1 m) i 1 n)",
    );
    check(
        r"\sum_{n \ge 1} \frac1{n^2}",
        "(series:sum:where (/ 1 (^ n 2)) (≥ n 1))",
    );
    check(r"\sum_{d|n} d", "(series:sum:where d (∣ d n))");
    check(
        r"\prod_{k=1}^n k = n!",
        "(= (series:product k k 1 n) (factorial n))",
    );
    check(
        r"\frac{a_0}{2}+\sum_{n=1}^\infty a_n\cos nx + b_n\sin nx",
        "(+ (/ a_0 2) (series:sum (+ (* (indexed a n) (cos (* n x))) (* (indexed b n) (sin (* n x)))) n 1 Infinity))",
    );
    check(
        r"\binom{n}{k} = \frac{n!}{k!(n-k)!}",
        "(= (binomial n k) (/ (factorial n) (* (factorial k) (factorial (+ n (- k))))))",
    );
    check(r"{n \choose 2}", "(binomial n 2)");
    check(r"2n!", "(* 2 (factorial n))");
    check(r"(2n)!", "(factorial (* 2 n))");
    check(r"n!!", "(doublefactorial n)");
}

#[test]
fn matrices_sets_statements_and_numbers() {
    check(r"P(A|B)", "(apply P (given A B))");
    check(
        r"r^2 = x^2 + y^2, \tan\theta = \frac{y}{x}",
        "(list (= (^ r 2) (+ (^ x 2) (^ y 2))) (= (tan θ) (/ y x)))",
    );
    check(
        r"\begin{aligned} x+y &= 3 \\ 2x-y &= 0 \end{aligned}",
        "(system (= (+ x y) 3) (= (+ (* 2 x) (- y)) 0))",
    );
    check(
        r"\begin{align*} f(x) &= x^2 + 2x + 1 \\ &= (x+1)^2 \end{align*}",
        "(= = (apply f x) (+ (^ x 2) (* 2 x) 1) (^ (+ x 1) 2))",
    );
    check(
        r"\left\{\begin{array}{l} x+y=1 \\ x-y=2 \end{array}\right.",
        "(system (= (+ x y) 1) (= (+ x (- y)) 2))",
    );
    check(
        r"\left\{\begin{array}{ll} x^2 & x<1 \\ 2x & x\ge1\end{array}\right.",
        "(piecewise (^ x 2) (< x 1) (* 2 x) (≥ x 1))",
    );
    check(
        r"\left[\begin{array}{cc|c} 1 & 2 & 3 \\ 4 & 5 & 6\end{array}\right]",
        "(matrix:3|2 1 2 3 4 5 6)",
    );
    check(
        r"\left|\begin{array}{cc} a & b \\ c & d\end{array}\right| = ad-bc",
        "(= (determinant (matrix:2 a b c d)) (+ (* a d) (- (* b c))))",
    );
    check(
        r"\begin{pmatrix} 1 \\ 2 \end{pmatrix} + \begin{pmatrix} 3 \\ 4 \end{pmatrix}",
        "(+ (matrix:1 1 2) (matrix:1 3 4))",
    );
    check(
        r"\begin{smallmatrix}1&0\\0&1\end{smallmatrix}",
        "(matrix:2 1 0 0 1)",
    );
    check(
        r"A = \left(\begin{smallmatrix} a & b \\ c & d \end{smallmatrix}\right)",
        "(= A (matrix:2 a b c d))",
    );
    check(
        r"\begin{cases} 2x + 3y = 7, \\ x - y = 1. \end{cases}",
        "(system (= (+ (* 2 x) (* 3 y)) 7) (= (+ x (- y)) 1))",
    );
    check(
        r"\begin{cases} 2x &+ 3y &= 7 \\ x &- y &= 1 \end{cases}",
        "(system (= (+ (* 2 x) (* 3 y)) 7) (= (+ x (- y)) 1))",
    );
    check(
        r"|x| = \begin{cases} x, & x \ge 0 \\ -x, & x < 0 \end{cases}",
        "(= (abs x) (piecewise x (≥ x 0) (- x) (< x 0)))",
    );
    check(
        r"f(x) = \begin{cases} x^2 \text{ if } x>0 \\ 0 \text{ otherwise} \end{cases}",
        r#"(= (apply f x) (piecewise (^ x 2) (> x 0) 0 "otherwise"))"#,
    );
    check(
        r"f(x) = \begin{cases} 1 & \text{if $x$ is rational} \\ 0 & \text{otherwise} \end{cases}",
        r#"(= (apply f x) (piecewise 1 (list x "is rational") 0 "otherwise"))"#,
    );
    check(
        r"f(x) = \begin{cases} 1 & \text{for } 0 \le x < 1 \\ 2 & \text{for } x \geq 1 \end{cases}",
        "(= (apply f x) (piecewise 1 (≤ < 0 x 1) 2 (≥ x 1)))",
    );
    check(
        r"\det A = 5, \quad \det(A - \lambda I) = 0",
        "(list (= (determinant A) 5) (= (determinant (+ A (- (* λ letter:I)))) 0))",
    );
    check(
        r"A^T A x = A^T b",
        "(= (* (transpose A) A x) (* (transpose A) b))",
    );
    check(
        r"A^{-1} = \frac{1}{ad-bc}\begin{bmatrix} d & -b \\ -c & a\end{bmatrix}",
        "(= (^ A (- 1)) (* (/ 1 (+ (* a d) (- (* b c)))) (matrix:2 d (- b) (- c) a)))",
    );
    check(
        r"(AB)^T = B^TA^T",
        "(= (transpose (* A B)) (* (transpose B) (transpose A)))",
    );
    check(
        r"\mathbf{u}\cdot\mathbf{v} = |\mathbf u||\mathbf v|\cos\theta",
        "(= (dot bold:u bold:v) (* (abs bold:u) (abs bold:v) (cos θ)))",
    );
    check(r"\mathbf{a} \times \mathbf{b}", "(cross bold:a bold:b)");
    check(
        r"\langle 1,2,3\rangle \cdot \langle 4,5,6 \rangle",
        "(dot (tuple:angle 1 2 3) (tuple:angle 4 5 6))",
    );
    check(
        r"\vec{r}(t) = \langle \cos t, \sin t, t\rangle",
        "(= (apply vec:r t) (tuple:angle (cos t) (sin t) t))",
    );
    check(
        r"\nabla f = \langle 2x, 2y\rangle",
        "(= (gradient f) (tuple:angle (* 2 x) (* 2 y)))",
    );
    check(r"\nabla\cdot\mathbf F = 0", "(= (divergence bold:F) 0)");
    check(r"\nabla\times\mathbf F", "(curl bold:F)");
    check(r"\nabla^2 u = 0", "(= (laplacian u) 0)");
    check(r"\Delta x = x_2 - x_1", "(= (change x) (+ x_2 (- x_1)))");
    check(r"\frac{\Delta y}{\Delta x}", "(/ (change y) (change x))");
    check(r"[a,b)", "(interval:[) a b)");
    check(r"(0, \infty)", "(interval:() 0 Infinity)");
    check(r"x\in(0,1)", "(∈ x (interval:() 0 1))");
    check(
        r"[0,1]\cup(2,3]",
        "(union (interval:[] 0 1) (interval:(] 2 3))",
    );
    check(r"\{1,2,3\}", "(set 1 2 3)");
    check(r"\{1, 2, \dots, n\}", "(set 1 2 ... n)");
    check(
        r"\{x\in\mathbb{R}\mid x^2<2\}",
        "(setbuilder (∈ x Reals) (< (^ x 2) 2))",
    );
    check(r"\{x | |x|<2\}", "(setbuilder x (< (abs x) 2))");
    check(
        r"\{(x,y) : y = x^2\}",
        "(setbuilder (tuple x y) (= y (^ x 2)))",
    );
    check(
        r"A\cup B, A\cap B, A\setminus B",
        "(list (union A B) (intersection A B) (difference A B))",
    );
    check(r"\mathbb{R}\setminus\{0\}", "(difference Reals (set 0))");
    check(r"x\in\mathbb Z", "(∈ x Integers)");
    check(r"\emptyset", "EmptySet");
    check(r"x \notin A", "(∉ x A)");
    check(r"A\subseteq B", "(⊆ A B)");
    check(
        r"f:\mathbb{R}\to\mathbb{R}, x\mapsto x^2",
        "(list (: → f Reals Reals) (↦ x (^ x 2)))",
    );
    check(
        r"\forall x\in\mathbb R, x^2\ge0",
        "(forall (∈ x Reals) (≥ (^ x 2) 0))",
    );
    check(
        r"\forall \varepsilon>0\ \exists\delta>0: |x-a|<\delta \implies |f(x)-L|<\varepsilon",
        "(forall (> ε 0) (exists (> δ 0) (implies (< (abs (+ x (- a))) δ) (< (abs (+ (apply f x) (- L))) ε))))",
    );
    check(r"x>0 \iff e^x>1", "(iff (> x 0) (> (^ E x) 1))");
    check(r"p\land q \lor \neg r", "(or (and p q) (not r))");
    check(r"x=1\text{ or }x=-1", "(or (= x 1) (= x (- 1)))");
    check(r"-2 < x \le 3", "(< ≤ (- 2) x 3)");
    check(r"x \ne 0", "(≠ x 0)");
    check(
        r"x = \frac{-b\pm\sqrt{b^2-4ac}}{2a}",
        "(= x (/ (+ (- b) (+- (root (+ (^ b 2) (- (* 4 a c)))))) (* 2 a)))",
    );
    check(r"x = 2 \pm \sqrt3", "(= x (+ 2 (+- (root 3))))");
    check(r"x = \pm 2", "(= x (+- 2))");
    check(
        r"\cos(\alpha\pm\beta) = \cos\alpha\cos\beta\mp\sin\alpha\sin\beta",
        "(= (cos (+ α (+- β))) (+ (* (cos α) (cos β)) (-+ (* (sin α) (sin β)))))",
    );
    check(r"3:4 = x:12", "(= (ratio 3 4) (ratio x 12))");
    check(r"a \equiv b \pmod{n}", "(modulo (≡ a b) n)");
    check(r"17 \bmod 5 = 2", "(= (remainder 17 5) 2)");
    check(r"\gcd(12,18) = 6", "(= (gcd 12 18) 6)");
    check(r"\max\{a,b\}", "(max a b)");
    check(
        r"\max_{x\in[0,1]} f(x)",
        "(max (given (apply f x) (∈ x (interval:[] 0 1))))",
    );
    check(
        r"\lfloor x\rfloor + \lceil x \rceil",
        "(+ (floor x) (ceiling x))",
    );
    check(r"\|v\|", "(norm v)");
    check(r"\lvert x\rvert < 3", "(< (abs x) 3)");
    check(r"|x||y|", "(* (abs x) (abs y))");
    check(r"2|x|", "(* 2 (abs x))");
    check(r"|2x-1|+|x|=5", "(= (+ (abs (+ (* 2 x) (- 1))) (abs x)) 5)");
    check(r"||x|-|y||", "(abs (+ (abs x) (- (abs y))))");
    check(r"\left|\frac{x}{|x|}\right|", "(abs (/ x (abs x)))");
    check(r"-|x|", "(- (abs x))");
    check(r"|{-3}|", "(abs (- 3))");
    check(r"e^{|x|}", "(^ E (abs x))");
    check(r"5\%", "(percent 5)");
    check(r"\$5.50", r#"(* "$" 5.50)"#);
    check(
        r"90^\circ - 30^{\circ}",
        "(+ (degrees 90) (- (degrees 30)))",
    );
    check(r"30°", "(degrees 30)");
    check(r"1{,}000{,}000", "1000000");
    check(r"1,000", "1000");
    check(r"12,500", "12500");
    check(r"(1,234)", "(tuple 1 234)");
    check(r"10\,000", "10000");
    check(r"0.\overline{3}", "0.(3)");
    check(r"0.1\overline{6}", "0.1(6)");
    check(r"3{,}14", "3.14");
    check(r".5x", "(* 0.5 x)");
    check(r"1\frac12", "(mixed 1 1 2)");
    check(r"2\frac13\pi", "(* (mixed 2 1 3) Pi)");
    check(r"x = 2\frac{1}{3}", "(= x (mixed 2 1 3))");
    check(r"2\frac{3}{2}", "(* 2 (/ 3 2))");
    check(r"12x^3\div 4x", "(/ (* 12 (^ x 3)) (* 4 x))");
    check(r"8 \div 4 \div 2", "(/ (/ 8 4) 2)");
    check(r"a/b/c", "(/ (/ a b) c)");
    check(r"3 \times 10^5", "(* 3 (^ 10 5))");
    check(r"2 \cdot -3", "(* 2 (- 3))");
    check(r"5(-3)", "(* 5 (- 3))");
    check(r"(2)(3)", "(* 2 3)");
    check(r"--x", "(- (- x))");
    check(r"2^{3^2}", "(^ 2 (^ 3 2))");
    check(r"{x}^2", "(^ x 2)");
    check(r"x^{\frac12}", "(^ x (/ 1 2))");
    check(r"x^\frac12", "(^ x (/ 1 2))");
    check(r"\frac xy", "(/ x y)");
    check(r"\frac\pi2", "(/ Pi 2)");
    check(r"\frac1{x+1}", "(/ 1 (+ x 1))");
    check(r"\sqrt[n]{x}", "(nthroot x n)");
    check(r"\sqrt{\sqrt{x}}", "(root (root x))");
    check(
        r"C_1e^{x}+C_2e^{-x}",
        "(+ (* C_1 (^ E x)) (* C_2 (^ E (- x))))",
    );
    check(r"y = C e^{-x}", "(= y (* C (^ E (- x))))");
    check(r"z = re^{i\theta}", "(= z (* r (^ E (* I θ))))");
    check(r"e^{i\pi}+1=0", "(= (+ (^ E (* I Pi)) 1) 0)");
    check(
        r"z = 3+4i, |z| = 5",
        "(list (= z (+ 3 (* 4 I))) (= (abs z) 5))",
    );
    check(r"\bar z = 3-4i", "(= bar:z (+ 3 (- (* 4 I))))");
    check(r"\overline{z+w}", "(conjugate (+ z w))");
    check(r"\operatorname{Re}(z)", "(realpart z)");
    check(r"\Re z", "(realpart z)");
    check(
        r"\operatorname{Var}(X) = E[X^2] - (E[X])^2",
        "(= (variance X) (+ (apply letter:E (^ X 2)) (- (^ (apply letter:E X) 2))))",
    );
    check(
        r"\Pr(X=k) = \binom nk p^k(1-p)^{n-k}",
        "(= (probability (= X k)) (* (binomial n k) (^ p k) (^ (+ 1 (- p)) (+ n (- k)))))",
    );
    check(r"\hat y = 2x+1", "(= hat:y (+ (* 2 x) 1))");
    check(
        r"\bar{x} = \frac{1}{n}\sum_{i=1}^n x_i",
        "(= bar:x (* (/ 1 n) (series:sum (indexed x i) i 1 n)))",
    );
    check(r"\vec{0}", "vec:0");
    check(r"\mathbf{0}", "bold:0");
    check(r"\hat{\imath}+\hat{\jmath}", "(+ hat:ı hat:ȷ)");
    check(r"\text{Area} = \pi r^2", r#"(= "Area" (* Pi (^ r 2)))"#);
    check(r"v = 5\text{ m/s}", r#"(= v (* 5 "m/s"))"#);
    check(r"5 \text{ cm}", r#"(* 5 "cm")"#);
    check(r"\boxed{x = 3}", "(= x 3)");
    check(r"\underbrace{1+1+\cdots+1}_{n}", "(+ 1 1 ... 1)");
    check(r"a_1 + a_2 + \dots + a_n", "(+ a_1 a_2 ... (indexed a n))");
    check(
        r"a_n = 2a_{n-1} + 1,\ a_0 = 1",
        "(list (= (indexed a n) (+ (* 2 (indexed a (+ n (- 1)))) 1)) (= a_0 1))",
    );
    check(
        r"x_{n+1} = x_n - \frac{f(x_n)}{f'(x_n)}",
        "(= (indexed x (+ n 1)) (+ (indexed x n) (- (/ (apply f (indexed x n)) (apply (' f) (indexed x n))))))",
    );
    check(
        r"f^{(n)}(0) = n!",
        "(= (apply (nthprime f n) 0) (factorial n))",
    );
    check(
        r"\sum_{n=0}^{\infty}\frac{f^{(n)}(a)}{n!}(x-a)^n",
        "(series:sum (* (/ (apply (nthprime f n) a) (factorial n)) (^ (+ x (- a)) n)) n 0 Infinity)",
    );
    check(r"y^{(4)}+2y''+y=0", "(= (+ ('''' y) (* 2 ('' y)) y) 0)");
    check(r"y^{iv}", "(^ y (* I v))");
    check(r"y^{(iv)}", "('''' y)");
    check(r"\Gamma(n+1)=n!", "(= (apply Γ (+ n 1)) (factorial n))");
    check(
        r"\zeta(2)=\frac{\pi^2}{6}",
        "(= (apply ζ 2) (/ (^ Pi 2) 6))",
    );
    check(r"\angle ABC = 45^\circ", "(= ∠ABC (degrees 45))");
    check(
        r"\overline{AB} \parallel \overline{CD}",
        "(∥ bar:AB bar:CD)",
    );
    check(r"x\to\infty", "(→ x Infinity)");
    check(r"a \mid b", "(∣ a b)");
    check(r"2x \nmid 3", "(∤ (* 2 x) 3)");
}

#[test]
fn powers_characters_and_limits() {
    check(
        r"(AB)^T = B^TA^T",
        "(= (transpose (* A B)) (* (transpose B) (transpose A)))",
    );
    check(
        r"\forall \varepsilon>0\ \exists\delta>0: |x-a|<\delta \implies |f(x)-L|<\varepsilon",
        "(forall (> ε 0) (exists (> δ 0) (implies (< (abs (+ x (- a))) δ) (< (abs (+ (apply f x) (- L))) ε))))",
    );
    check(r"3:4 = x:12", "(= (ratio 3 4) (ratio x 12))");
    check(r"\$5.50", r#"(* "$" 5.50)"#);
    check(r"|{-3}|", "(abs (- 3))");
    check(
        r"f(x) = \begin{cases} x^2 \text{ if } x>0 \\ 0 \text{ otherwise} \end{cases}",
        r#"(= (apply f x) (piecewise (^ x 2) (> x 0) 0 "otherwise"))"#,
    );
    check(
        r"E[X^2] - (E[X])^2",
        "(+ (apply letter:E (^ X 2)) (- (^ (apply letter:E X) 2)))",
    );
    check(r"\mathbb{E}[X] = np", "(= (apply bb:letter:E X) (* n p))");
    check(
        r"\sin x\cos x + \sin^2 x\cos^3 x",
        "(+ (* (sin x) (cos x)) (* (^ (sin x) 2) (^ (cos x) 3)))",
    );
    check(r"a_n(x-c)^n", "(* (indexed a n) (^ (+ x (- c)) n))");
    check(r"x^{2/3}", "(^ x (/ 2 3))");
    check(r"x^{1/2}y^{-1/3}", "(* (^ x (/ 1 2)) (^ y (- (/ 1 3))))");
    check(r"(x^2+1)^{3/2}", "(^ (+ (^ x 2) 1) (/ 3 2))");
    check(
        r"\frac{x+1}{x-1} \div \frac{x}{2}",
        "(/ (/ (+ x 1) (+ x (- 1))) (/ x 2))",
    );
    check(r"\frac{\frac{1}{x}}{\frac{1}{y}}", "(/ (/ 1 x) (/ 1 y))");
    check(r"\sqrt{x^2+y^2}", "(root (+ (^ x 2) (^ y 2)))");
    check(r"\sqrt{x+\sqrt{x}}", "(root (+ x (root x)))");
    check(r"x^{x^{x}}", "(^ x (^ x x))");
    check(r"\left(\frac{a}{b}\right)^{-n}", "(^ (/ a b) (- n))");
    check(
        r"(3x^2y)(−2xy^3)",
        "(* (* 3 (^ x 2) y) (- (* 2 x (^ y 3))))",
    );
    check(r"3x−2≥7", "(≥ (+ (* 3 x) (- 2)) 7)");
    check(r"x ≤ 5 ∧ x ≠ 2", "(and (≤ x 5) (≠ x 2))");
    check(r"∫₀¹ x² dx", "(integral (^ x 2) x 0 1)");
    check(r"∑_{k=1}^{n} k²", "(series:sum (^ k 2) k 1 n)");
    check(r"½x + ¾", "(+ (* (/ 1 2) x) (/ 3 4))");
    check(r"2½ + 1", "(+ (mixed 2 1 2) 1)");
    check(r"π r²", "(* Pi (^ r 2))");
    check(r"√2 + ∛x", "(+ (root 2) (nthroot x 3))");
    check(r"θ = 30°", "(= θ (degrees 30))");
    check(r"x² − 5x + 6 = 0", "(= (+ (^ x 2) (- (* 5 x)) 6) 0)");
    check(r"x₁ + x₂", "(+ x_1 x_2)");
    check(r"a·b×c", "(* a b c)");
    check(r"y″ + 4y′ = 0", "(= (+ ('' y) (* 4 (' y))) 0)");
    check(r"x ∈ ℝ", "(∈ x Reals)");
    check(r"(f/g)'(x)", "(apply (' (/ f g)) x)");
    check(r"(x^2\sin x)'", "(' (* (^ x 2) (sin x)))");
    check(
        r"(uv)' = u'v + uv'",
        "(= (' (* u v)) (+ (* (' u) v) (* u (' v))))",
    );
    check(
        r"\left(\frac{f}{g}\right)' = \frac{f'g - fg'}{g^2}",
        "(= (' (/ f g)) (/ (+ (* (' f) g) (- (* f (' g)))) (^ g 2)))",
    );
    check(r"y' = f(x,y)", "(= (' y) (apply f x y))");
    check(
        r"y'' + p(t)y' + q(t)y = g(t)",
        "(= (+ ('' y) (* (apply p t) (' y)) (* (apply q t) y)) (apply g t))",
    );
    check(
        r"x'' + 2\zeta\omega_0 x' + \omega_0^2 x = 0",
        "(= (+ ('' x) (* 2 ζ ω_0 (' x)) (* (^ ω_0 2) x)) 0)",
    );
    check(
        r"W(y_1,y_2) = y_1y_2' - y_1'y_2",
        "(= (apply W y_1 y_2) (+ (* y_1 (' y_2)) (- (* (' y_1) y_2))))",
    );
    check(
        r"y_1(x) = e^{x}, y_2 = e^{-x}",
        "(list (= (apply y_1 x) (^ E x)) (= y_2 (^ E (- x))))",
    );
    check(
        r"y_p = Ax^2 + Bx + C",
        "(= y_p (+ (* A (^ x 2)) (* B x) C))",
    );
    check(
        r"u(x,t) = X(x)T(t)",
        "(= (apply u x t) (* (apply X x) (apply T t)))",
    );
    check(r"\delta(t-a)", "(apply δ (+ t (- a)))");
    check(
        r"\mathcal L\{e^{at}\} = \frac{1}{s-a}",
        "(= (apply cal:L (^ E (* a t))) (/ 1 (+ s (- a))))",
    );
    check(
        r"\mathcal{L}^{-1}\{\frac{1}{s^2+1}\}",
        "(apply (inversefunction cal:L) (/ 1 (+ (^ s 2) 1)))",
    );
    check(
        r"F(s) = \mathcal{L}[f(t)]",
        "(= (apply F s) (apply cal:L (apply f t)))",
    );
    check(
        r"f(t) = t^2 \text{ for } 0<t<1",
        "(given (= (apply f t) (^ t 2)) (< < 0 t 1))",
    );
    check(r"y = \ln|x| + C", "(= y (+ (ln (abs x)) C))");
    check(
        r"y = \ln\left|\frac{x-1}{x+1}\right|",
        "(= y (ln (abs (/ (+ x (- 1)) (+ x 1)))))",
    );
    check(
        r"\ln x - \ln(x-1) = \ln 2",
        "(= (+ (ln x) (- (ln (+ x (- 1))))) (ln 2))",
    );
    check(r"\log 100 = 2", "(= (log 100) 2)");
    check(r"\log x^2", "(log (^ x 2))");
    check(r"\log_{10}1000", "(logbase 1000 10)");
    check(r"\ln\sqrt{x}", "(ln (root x))");
    check(r"\ln e^x", "(ln (^ E x))");
    check(r"\ln(\ln x)", "(ln (ln x))");
    check(r"\ln\ln x", "(ln (ln x))");
    check(r"\exp(-x^2)", "(exp (- (^ x 2)))");
    check(
        r"\exp\left(-\frac{x^2}{2}\right)",
        "(exp (- (/ (^ x 2) 2)))",
    );
    check(r"\sin(\cos x)", "(sin (cos x))");
    check(r"\sin\cos x", "(sin (cos x))");
    check(r"\sin 2(x+1)", "(sin (* 2 (+ x 1)))");
    check(r"\cos\omega t", "(cos (* ω t))");
    check(r"\cos(\omega t+\phi)", "(cos (+ (* ω t) φ))");
    check(r"\cos 2\pi x", "(cos (* 2 Pi x))");
    check(r"\sin\left(x+\frac{\pi}{4}\right)", "(sin (+ x (/ Pi 4)))");
    check(
        r"\tan\theta = \frac{\sin\theta}{\cos\theta}",
        "(= (tan θ) (/ (sin θ) (cos θ)))",
    );
    check(
        r"\sec^2 x - \tan^2 x = 1",
        "(= (+ (^ (sec x) 2) (- (^ (tan x) 2))) 1)",
    );
    check(
        r"\sin^2x+\cos^2x=1",
        "(= (+ (^ (sin x) 2) (^ (cos x) 2)) 1)",
    );
    check(r"\sin^3 x\cos^2 x", "(* (^ (sin x) 3) (^ (cos x) 2))");
    check(r"\sin{x}\cos{x}", "(* (sin x) (cos x))");
    check(r"\sin{2x}", "(sin (* 2 x))");
    check(
        r"\sin x + \cos x = \sqrt2\sin\left(x+\frac\pi4\right)",
        "(= (+ (sin x) (cos x)) (* (root 2) (sin (+ x (/ Pi 4)))))",
    );
    check(r"2\cos^2\theta - 1", "(+ (* 2 (^ (cos θ) 2)) (- 1))");
    check(r"\cos(2\arcsin x)", "(cos (* 2 (arcsin x)))");
    check(r"\arctan\frac{y}{x}", "(arctan (/ y x))");
    check(
        r"\sinh x = \frac{e^x-e^{-x}}{2}",
        "(= (sinh x) (/ (+ (^ E x) (- (^ E (- x)))) 2))",
    );
    check(r"\cot x\csc x", "(* (cot x) (csc x))");
    check(r"-\sin x", "(- (sin x))");
    check(r"-2\sin(3x+1)", "(- (* 2 (sin (+ (* 3 x) 1))))");
    check(r"\sin(-x) = -\sin x", "(= (sin (- x)) (- (sin x)))");
    check(r"\sin -x", "(sin (- x))");
    check(
        r"\frac{\sin 5x}{\sin 3x}",
        "(/ (sin (* 5 x)) (sin (* 3 x)))",
    );
    check(
        r"\lim_{x\to0}\frac{1-\cos x}{x^2}",
        "(limit (/ (+ 1 (- (cos x))) (^ x 2)) x 0)",
    );
    check(
        r"\lim_{x\to0} x\sin\frac1x",
        "(limit (* x (sin (/ 1 x))) x 0)",
    );
    check(
        r"\lim_{x\to\infty} \sqrt{x^2+x}-x",
        "(limit (+ (root (+ (^ x 2) x)) (- x)) x Infinity)",
    );
    check(
        r"\lim_{h \to 0} \frac{(x+h)^2 - x^2}{h} = 2x",
        "(= (limit (/ (+ (^ (+ x h) 2) (- (^ x 2))) h) h 0) (* 2 x))",
    );
    check(r"\lim_{x\to -1} (x^2+1)", "(limit (+ (^ x 2) 1) x (- 1))");
    check(
        r"\lim_{x\to 1^{+}}\frac1{x-1} = \infty",
        "(= (limit:above (/ 1 (+ x (- 1))) x 1) Infinity)",
    );
    check(
        r"\lim_{n\to\infty} a_n = L",
        "(= (limit (indexed a n) n Infinity) L)",
    );
    check(r"\lim_{x \rightarrow 0} x", "(limit x x 0)");
}

#[test]
fn textbook_formulas() {
    check(
        r"f(x) = \begin{cases} x^2 \text{ if } x>0 \\ 0 \text{ otherwise} \end{cases}",
        r#"(= (apply f x) (piecewise (^ x 2) (> x 0) 0 "otherwise"))"#,
    );
    check(r"√2 + ∛x", "(+ (root 2) (nthroot x 3))");
    check(r"∛(x+1)", "(nthroot (+ x 1) 3)");
    check(r"x₁ + x₁₂", "(+ x_1 x_12)");
    check(r"(f/g)'(x)", "(apply (' (/ f g)) x)");
    check(r"(f+g)''(x)", "(apply ('' (+ f g)) x)");
    check(
        r"F(s) = \mathcal{L}[f(t)]",
        "(= (apply F s) (apply cal:L (apply f t)))",
    );
    check(
        r"\int_1^2 \frac{\ln x}{x}\,dx",
        "(integral (/ (ln x) x) x 1 2)",
    );
    check(
        r"\int \frac{1}{x^2-1}\,dx",
        "(integral (/ 1 (+ (^ x 2) (- 1))) x)",
    );
    check(
        r"\int \frac{dx}{\sqrt{1-x^2}} = \arcsin x + C",
        "(= (integral (/ 1 (root (+ 1 (- (^ x 2))))) x) (+ (arcsin x) C))",
    );
    check(
        r"\int \sqrt{1+x^2}\,dx",
        "(integral (root (+ 1 (^ x 2))) x)",
    );
    check(
        r"\int_0^{\pi/2} \sin^2 x\,dx",
        "(integral (^ (sin x) 2) x 0 (/ Pi 2))",
    );
    check(
        r"\int_{-\infty}^{\infty} e^{-x^2}dx = \sqrt\pi",
        "(= (integral (^ E (- (^ x 2))) x (- Infinity) Infinity) (root Pi))",
    );
    check(
        r"\int_0^1 \int_0^{1-x} \int_0^{1-x-y} dz\,dy\,dx",
        "(integral (integral (integral 1 z 0 (+ 1 (- x) (- y))) y 0 (+ 1 (- x))) x 0 1)",
    );
    check(
        r"\int_0^1 (x+1)(x-1)\,dx",
        "(integral (* (+ x 1) (+ x (- 1))) x 0 1)",
    );
    check(
        r"\int \left(x^2+\frac1x\right)dx",
        "(integral (+ (^ x 2) (/ 1 x)) x)",
    );
    check(
        r"\int \tan x \, dx = -\ln|\cos x| + C",
        "(= (integral (tan x) x) (+ (- (ln (abs (cos x)))) C))",
    );
    check(
        r"\int f(g(x))g'(x)\,dx = \int f(u)\,du",
        "(= (integral (* (apply f (apply g x)) (apply (' g) x)) x) (integral (apply f u) u))",
    );
    check(r"\int_0^t e^{-s} \,ds", "(integral (^ E (- s)) s 0 t)");
    check(
        r"\int \frac{2x+3}{(x+1)(x-2)} dx",
        "(integral (/ (+ (* 2 x) 3) (* (+ x 1) (+ x (- 2)))) x)",
    );
    check(
        r"\int x\,dx + \int y\,dy",
        "(+ (integral x x) (integral y y))",
    );
    check(
        r"\int x\,dx \cdot \int y\,dy",
        "(* (integral x x) (integral y y))",
    );
    check(r"2\int_0^1 x\,dx", "(* 2 (integral x x 0 1))");
    check(
        r"\int_0^1 x^n\,dx = \frac{1}{n+1}",
        "(= (integral (^ x n) x 0 1) (/ 1 (+ n 1)))",
    );
    check(
        r"\frac{d}{dx}\int_a^x f(t)\,dt",
        "(d:1 (integral (apply f t) t a x) x)",
    );
    check(
        r"\int \mathbf{F}\cdot d\mathbf{r} = \int_a^b \mathbf F(\mathbf r(t))\cdot\mathbf r'(t)\,dt",
        "(= (integral:by0 (dot bold:F (differential bold:r))) (integral (dot (apply bold:F (apply bold:r t)) (apply (' bold:r) t)) t a b))",
    );
    check(
        r"\iint_S \mathbf F\cdot d\mathbf S",
        "(integral:2:by0 (dot bold:F (differential bold:S)) S)",
    );
    check(
        r"\int_0^\infty \frac{\sin x}{x} dx = \frac{\pi}{2}",
        "(= (integral (/ (sin x) x) x 0 Infinity) (/ Pi 2))",
    );
    check(
        r"\int_{|z|=1} \frac{dz}{z} = 2\pi i",
        "(= (integral (/ 1 z) z (= (abs z) 1)) (* 2 Pi I))",
    );
    check(
        r"\int \cos^3 x\sin x\,dx",
        "(integral (* (^ (cos x) 3) (sin x)) x)",
    );
    check(
        r"\int \frac{x^2+1}{x}\,dx",
        "(integral (/ (+ (^ x 2) 1) x) x)",
    );
    check(r"\int \csc x\cot x\,dx", "(integral (* (csc x) (cot x)) x)");
    check(
        r"\int \frac{e^x}{1+e^x}dx",
        "(integral (/ (^ E x) (+ 1 (^ E x))) x)",
    );
    check(
        r"\int t e^{-st}\,dt",
        "(integral (* t (^ E (- (* s t)))) t)",
    );
    check(
        r"\int r(x) q(x)\,dx",
        "(integral (* (apply r x) (apply q x)) x)",
    );
    check(
        r"y = e^{-\int p\,dx}\left(\int q e^{\int p\,dx}\,dx + C\right)",
        "(= y (* (^ E (- (integral p x))) (+ (integral (* q (^ E (integral p x))) x) C)))",
    );
    check(
        r"\left[\frac{x^3}{3}\right]_0^1",
        "(evaluatedat (/ (^ x 3) 3) 0 1)",
    );
    check(
        r"\left[x^2\right]_{x=0}^{x=1}",
        "(evaluatedat (^ x 2) (= x 0) (= x 1))",
    );
    check(r"[x^2+1]_0^2", "(evaluatedat (+ (^ x 2) 1) 0 2)");
    check(r"F(x)\Big|_a^b", "(evaluatedat (apply F x) a b)");
    check(
        r"\frac{x^3}{3}\bigg|_{0}^{1}",
        "(evaluatedat (/ (^ x 3) 3) 0 1)",
    );
    check(r"x^2|_{x=3}", "(evaluatedat (^ x 2) (= x 3))");
    check(
        r"\sum_{n=1}^{\infty}(-1)^{n+1}\frac{x^n}{n}",
        "(series:sum (* (^ (- 1) (+ n 1)) (/ (^ x n) n)) n 1 Infinity)",
    );
    check(
        r"\sum_{n=0}^\infty ar^n = \frac{a}{1-r}",
        "(= (series:sum (* a (^ r n)) n 0 Infinity) (/ a (+ 1 (- r))))",
    );
    check(
        r"\sum_{k=0}^{n}\binom{n}{k}a^{n-k}b^k",
        "(series:sum (* (binomial n k) (^ a (+ n (- k))) (^ b k)) k 0 n)",
    );
    check(
        r"\sum_{n=1}^{10}(2n-1)",
        "(series:sum (+ (* 2 n) (- 1)) n 1 10)",
    );
    check(r"\sum a_n", "(series:sum (indexed a n))");
    check(r"\sum_n a_n", "(series:sum (indexed a n) n)");
    check(
        r"\sum_{i<j} a_{ij}",
        "(series:sum:where (indexed a i j) (< i j))",
    );
    check(
        r"\prod_{i=1}^{n}(1+x_i)",
        "(series:product (+ 1 (indexed x i)) i 1 n)",
    );
    check(
        r"\bigcup_{n=1}^\infty A_n",
        "(series:union (indexed A n) n 1 Infinity)",
    );
    check(
        r"S_n = \sum_{k=1}^{n} a_k",
        "(= (indexed S n) (series:sum (indexed a k) k 1 n))",
    );
    check(
        r"s_n = \frac{a_1(1-r^n)}{1-r}",
        "(= (indexed s n) (/ (* a_1 (+ 1 (- (^ r n)))) (+ 1 (- r))))",
    );
    check(
        r"a_n = a_1 + (n-1)d",
        "(= (indexed a n) (+ a_1 (* (+ n (- 1)) d)))",
    );
    check(
        r"a_n = a_1r^{n-1}",
        "(= (indexed a n) (* a_1 (^ r (+ n (- 1)))))",
    );
    check(r"1+2+3+\cdots+n", "(+ 1 2 3 ... n)");
    check(r"1, 3, 5, 7, \ldots", "(list 1 3 5 7 ...)");
    check(r"a_1, a_2, \dots, a_n", "(list a_1 a_2 ... (indexed a n))");
    check(r"\left\{\frac{1}{n}\right\}", "(set (/ 1 n))");
    check(r"x = 1,\ y = 2", "(list (= x 1) (= y 2))");
    check(r"x = 1; y = 2", "(list (= x 1) (= y 2))");
    check(r"(x,y) = (1,2)", "(= (tuple x y) (tuple 1 2))");
    check(
        r"(x, y, z) = (1, -2, 3)",
        "(= (tuple x y z) (tuple 1 (- 2) 3))",
    );
    check(r"x = 1 \quad\text{or}\quad x = 2", "(or (= x 1) (= x 2))");
    check(r"x = 3\text{ and }y = 4", "(and (= x 3) (= y 4))");
    check(
        r"x = n\pi, n \in \mathbb{Z}",
        "(list (= x (* n Pi)) (∈ n Integers))",
    );
    check(
        r"x = \frac{\pi}{4} + 2\pi n,\ n\in\mathbb Z",
        "(list (= x (+ (/ Pi 4) (* 2 Pi n))) (∈ n Integers))",
    );
    check(
        r"\theta = \frac{\pi}{6} + 2k\pi",
        "(= θ (+ (/ Pi 6) (* 2 k Pi)))",
    );
    check(
        r"x = \frac{\pi}{3}, \frac{5\pi}{3}",
        "(list (= x (/ Pi 3)) (/ (* 5 Pi) 3))",
    );
    check(r"x < -2 \text{ or } x > 3", "(or (< x (- 2)) (> x 3))");
    check(r"-3 \le x < 5", "(≤ < (- 3) x 5)");
    check(
        r"(-\infty, 2) \cup (2, \infty)",
        "(union (interval:() (- Infinity) 2) (interval:() 2 Infinity))",
    );
    check(r"x \in (-2, 3]", "(∈ x (interval:(] (- 2) 3))");
    check(r"\text{DNE}", r#""DNE""#);
    check(r"\infty", "Infinity");
    check(r"-\infty", "(- Infinity)");
    check(r"\text{undefined}", r#""undefined""#);
    check(r"\text{All real numbers}", r#""All real numbers""#);
    check(r"y = 3x - 2.", "(= y (+ (* 3 x) (- 2)))");
    check(r"x = 4,", "(= x 4)");
    check(r"(x-2)(x+3)=0", "(= (* (+ x (- 2)) (+ x 3)) 0)");
    check(
        r"x^2-4=(x-2)(x+2)",
        "(= (+ (^ x 2) (- 4)) (* (+ x (- 2)) (+ x 2)))",
    );
    check(
        r"(a+b)^2 = a^2+2ab+b^2",
        "(= (^ (+ a b) 2) (+ (^ a 2) (* 2 a b) (^ b 2)))",
    );
    check(r"\frac{x^2-1}{x-1}", "(/ (+ (^ x 2) (- 1)) (+ x (- 1)))");
    check(r"x^{-2}", "(^ x (- 2))");
    check(r"2^{-3}", "(^ 2 (- 3))");
    check(r"(2x)^3", "(^ (* 2 x) 3)");
    check(r"-2^2", "(- (^ 2 2))");
    check(r"(-2)^2", "(^ (- 2) 2)");
    check(r"\sqrt[3]{27}", "(nthroot 27 3)");
    check(r"\sqrt{50} = 5\sqrt2", "(= (root 50) (* 5 (root 2)))");
    check(r"\frac{3}{4}+\frac{5}{6}", "(+ (/ 3 4) (/ 5 6))");
    check(
        r"3\frac{1}{2}\div1\frac{3}{4}",
        "(/ (mixed 3 1 2) (mixed 1 3 4))",
    );
    check(r"0.25x+1.5=3", "(= (+ (* 0.25 x) 1.5) 3)");
    check(r"|x+2|>5", "(> (abs (+ x 2)) 5)");
    check(r"|2x-3|\le7", "(≤ (abs (+ (* 2 x) (- 3))) 7)");
    check(r"\frac{|x|}{x}", "(/ (abs x) x)");
    check(r"y-y_1 = m(x-x_1)", "(= (+ y (- y_1)) (* m (+ x (- x_1))))");
    check(
        r"m = \frac{y_2-y_1}{x_2-x_1}",
        "(= m (/ (+ y_2 (- y_1)) (+ x_2 (- x_1))))",
    );
    check(r"y = mx+b", "(= y (+ (* m x) b))");
    check(
        r"d = \sqrt{(x_2-x_1)^2+(y_2-y_1)^2}",
        "(= d (root (+ (^ (+ x_2 (- x_1)) 2) (^ (+ y_2 (- y_1)) 2))))",
    );
    check(
        r"A = P\left(1+\frac{r}{n}\right)^{nt}",
        "(= A (* P (^ (+ 1 (/ r n)) (* n t))))",
    );
    check(r"A = Pe^{rt}", "(= A (* P (^ E (* r t))))");
    check(r"V = \frac43\pi r^3", "(= V (* (/ 4 3) Pi (^ r 3)))");
    check(r"F = \frac95C+32", "(= F (+ (* (/ 9 5) C) 32))");
    check(
        r"h(t) = -16t^2+64t+80",
        "(= (apply h t) (+ (- (* 16 (^ t 2))) (* 64 t) 80))",
    );
    check(
        r"s(t)=t^3-6t^2+9t",
        "(= (apply s t) (+ (^ t 3) (- (* 6 (^ t 2))) (* 9 t)))",
    );
    check(
        r"f(x) = 2x^2-3x+1, \quad f(2)",
        "(list (= (apply f x) (+ (* 2 (^ x 2)) (- (* 3 x)) 1)) (apply f 2))",
    );
    check(r"f(a+h)-f(a)", "(+ (apply f (+ a h)) (- (apply f a)))");
    check(
        r"\frac{f(x+h)-f(x)}{h}",
        "(/ (+ (apply f (+ x h)) (- (apply f x))) h)",
    );
    check(r"f(g(2))", "(apply f (apply g 2))");
    check(r"(g\circ f)(x)", "(apply (composition g f) x)");
    check(r"f\circ g", "(composition f g)");
    check(r"x^2+y^2=r^2", "(= (+ (^ x 2) (^ y 2)) (^ r 2))");
    check(
        r"\frac{x^2}{a^2}+\frac{y^2}{b^2}=1",
        "(= (+ (/ (^ x 2) (^ a 2)) (/ (^ y 2) (^ b 2))) 1)",
    );
    check(
        r"(x-h)^2+(y-k)^2=r^2",
        "(= (+ (^ (+ x (- h)) 2) (^ (+ y (- k)) 2)) (^ r 2))",
    );
    check(r"r = 2\cos\theta", "(= r (* 2 (cos θ)))");
    check(r"x = t^2, y = t^3", "(list (= x (^ t 2)) (= y (^ t 3)))");
    check(
        r"P(x) = x^3-2x+1",
        "(= (apply P x) (+ (^ x 3) (- (* 2 x)) 1))",
    );
    check(r"P(2) = 5", "(= (apply P 2) 5)");
    check(r"p(x)q(x)", "(* (apply p x) (apply q x))");
    check(r"i^2=-1", "(= (^ I 2) (- 1))");
    check(r"(2+3i)(1-i)", "(* (+ 2 (* 3 I)) (+ 1 (- I)))");
    check(r"\frac{2+i}{3-2i}", "(/ (+ 2 I) (+ 3 (- (* 2 I))))");
    check(r"\sqrt{-9}=3i", "(= (root (- 9)) (* 3 I))");
    check(r"z^3=8i", "(= (^ z 3) (* 8 I))");
    check(
        r"r(\cos\theta+i\sin\theta)",
        "(* r (+ (cos θ) (* I (sin θ))))",
    );
    check(
        r"r\operatorname{cis}\theta",
        "(* r (+ (cos θ) (* I (sin θ))))",
    );
    check(r"|3-4i|", "(abs (+ 3 (- (* 4 I))))");
}

#[test]
fn faults() {
    check_fault(
        r#"
2\frac13 x
^^^^^^^^ Ambiguous: this may be a mixed number or a product; beside letters it is read as a product: write the sum `2 + \frac13`, an improper fraction, or a `\cdot` between them
(* 2 (/ 1 3) x)
"#,
    );
    check_fault(
        r#"
1/2x
^^^^ Ambiguous: it is not clear what `1/2` divides by: it is read as a fraction times the rest; write `\frac{a}{b} c` or `a/(b c)`
(* (/ 1 2) x)
"#,
    );
    check_fault(
        r#"
x^{-1} + e^{-x}dx
               ^^ Ambiguous: `dx` is read as a differential: write `d \cdot x` for a product, or `\,` before a differential
(+ (^ x (- 1)) (* (^ E (- x)) (differential x)))
"#,
    );
    check_fault(
        r#"
\forall \epsilon > 0\ \exists \delta > 0
                      ^^^^^^^^^^^^^^^^^^ Malformed: this says for which values, but not what holds: write the statement after a comma
(forall (> ε 0) (exists (> δ 0) _))
"#,
    );
    check_fault(
        r#"
(x+1
^ Malformed: this `(` is never closed: write `)` where it ends
(+ x 1)
"#,
    );
    check_fault(
        r#"
x^2 +
    ^ Malformed: nothing stands after `+`: write what is to be added or taken away
(+ (^ x 2) _)
"#,
    );
    check_fault(
        r#"
\sin x (y+1)
^^^^^^ Ambiguous: it is not clear where this argument ends; it is read to the bracket: put the argument in brackets
(* (sin x) (+ y 1))
"#,
    );
    check_fault(
        r#"
\sin k (y+1)
^^^^^^^^^^^^ Ambiguous: it is not clear whether this bracket belongs to the argument, as it is read: put the whole argument in brackets
(sin (* k (+ y 1)))
"#,
    );
    check_fault(
        r#"
\cos^22x
     ^ Ambiguous: without braces only the first digit is the power, as it is read: put the power in braces
(^ (cos (* 2 x)) 2)
"#,
    );
    check_fault(
        r#"
\ln{(x)}^2
^^^^^^^^^^ Ambiguous: this sign may belong to the whole value, as it is read, or to the bracket only: write `\sin^2(x)` or `\sin((x)^2)`
(^ (ln x) 2)
"#,
    );
    check_fault(
        r#"
\ln(x)^2
^^^^^^^^ Ambiguous: this sign may belong to the whole value, as it is read, or to the bracket only: write `\sin^2(x)` or `\sin((x)^2)`
(^ (ln x) 2)
"#,
    );
    check_fault(
        r#"
\sin x/2
^^^^^^^ Ambiguous: it is not clear whether the argument or the value is divided, as it is read: put the argument in brackets or write `\frac`
(/ (sin x) 2)
"#,
    );
    check_fault(
        r#"
\ln^{-1} x
^^^^^^^^ Ambiguous: this may be the inverse function or one divided by the value, as it is read: write `\frac{1}{\ln x}` or name the inverse
(^ (ln x) (- 1))
"#,
    );
    check_fault(
        r#"
x^12
  ^^ Ambiguous: without braces only the first digit belongs to it; it is read with all of them: write `{12}`
(^ x 12)
"#,
    );
    check_fault(
        r#"
x_12
  ^^ Ambiguous: without braces only the first digit is a subscript; it is read with all of them: write `_{12}`
x_12
"#,
    );
    check_fault(
        r#"
x2
^^ Ambiguous: a number after a letter is read as a factor: write it before the letter, or as in `x^2` or `x_2`
(* x 2)
"#,
    );
    check_fault(
        r#"
x^-1
  ^^ Malformed: only the sign belongs to `^` here: put all of it in braces, as in `x^{n+1}`
(^ x (- 1))
"#,
    );
    check_fault(
        r#"
e^-x
  ^^ Malformed: only the sign belongs to `^` here: put all of it in braces, as in `x^{n+1}`
(^ E (- x))
"#,
    );
    check_fault(
        r#"
x^(n+1)
  ^^^^^ Malformed: `^` reaches only to the bracket here, and is read with all of it: put it in braces, as in `x^{n+1}`
(^ x (+ n 1))
"#,
    );
    check_fault(
        r#"
\sqrt(x+1)
     ^^^^^ Malformed: `\sqrt` reaches only to the bracket here, and is read with all of it: put it in braces, as in `\sqrt{x}`
(root (+ x 1))
"#,
    );
    check_fault(
        r#"
\sqrt12
     ^^ Ambiguous: without braces only the first digit belongs to it; it is read with all of them: write `{12}`
(root 12)
"#,
    );
    check_fault(
        r#"
sin x + cos x
^^^ Malformed: `sin` is set as a product of letters; it is read as the function: write `\sin`
        ^^^ Malformed: `cos` is set as a product of letters; it is read as the function: write `\cos`
(+ (sin x) (cos x))
"#,
    );
    check_fault(
        r#"
lim x
^^^ Malformed: `lim` is set as a product of letters, and so it is read: write `\lim` if that is meant, or a space between the letters
(* l I m x)
"#,
    );
    check_fault(
        r#"
2x(3)
 ^^^^ Ambiguous: `x(3)` may be a product, as it is read, or a value of the function `x`: write `x \cdot (...)` for the product, or name the function elsewhere in the problem
(* 2 x 3)
"#,
    );
    check_fault(
        r#"
y'(x+1) = y
^^^^^^^ Ambiguous: `y'(x+1)` may be a product, as it is read, or a value of the derivative `y'`: write `y' \cdot (...)` for the product, or name the function elsewhere in the problem
(= (* (' y) (+ x 1)) y)
"#,
    );
    check_fault(
        r#"
\frac{d}{dx}(x+1)e^x
^^^^^^^^^^^^^^^^^ Ambiguous: the derivative may be of the bracket only, as it is read, or of the whole product: put brackets around all of it, or a `\cdot` after the bracket
(* (d:1 (+ x 1) x) (^ E x))
"#,
    );
    check_fault(
        r#"
\int x^2
^^^^^^^^ Malformed: this integral has no differential: write `\,dx` at its end, with its variable
(integral:by0 (^ x 2))
"#,
    );
    check_fault(
        r#"
\sum_{k=1}^n 2k + 1
^^^^^^^^^^^^^^^ Ambiguous: the number after this sum is read as added once, at the end: put brackets around what is summed
(+ (series:sum (* 2 k) k 1 n) 1)
"#,
    );
    check_fault(
        r#"
lim x
^^^ Malformed: `lim` is set as a product of letters, and so it is read: write `\lim` if that is meant, or a space between the letters
(* l I m x)
"#,
    );
    check_fault(
        r#"
3.14159\ldots
^^^^^^^^^^^^^ Unsupported: the digits of this number go on, and no one can tell how: write the repeating ones as in `0.\overline{3}`, or `\approx` before the digits that you know
(opaque "3.14159\\ldots")
"#,
    );
    check_fault(
        r#"
6 \div 2(1+2)
^^^^^^^^ Ambiguous: it is not clear whether the bracket is divided by as well: write a fraction, as in `\frac{a}{b}`
(/ 6 (* 2 (+ 1 2)))
"#,
    );
    check_fault(
        r#"
2^3^2
   ^ Malformed: a second exponent follows the first: put one of them in braces, as in `{x^2}^3` or `x^{2^3}`
(^ (^ 2 3) 2)
"#,
    );
    check_fault(
        r#"
{x+1}^2
^^^^^ Ambiguous: braces do not show on the page; these are read like brackets: write `( )` if you mean brackets
(^ (+ x 1) 2)
"#,
    );
    check_fault(
        r#"
u(t-2)
^^^^^^ Ambiguous: `u(t-2)` may be a product, as it is read, or a value of the function `u`: write `u \cdot (...)` for the product, or name the function elsewhere in the problem
(* u (+ t (- 2)))
"#,
    );
    check_fault(
        r#"
\log_2(x+1)^3
^^^^^^^^^^^^^ Ambiguous: this sign may belong to the whole value, as it is read, or to the bracket only: write `\sin^2(x)` or `\sin((x)^2)`
(^ (logbase (+ x 1) 2) 3)
"#,
    );
    check_fault(
        r#"
\sin k(x-ct)
^^^^^^^^^^^^ Ambiguous: it is not clear whether this bracket belongs to the argument, as it is read: put the whole argument in brackets
(sin (* k (+ x (- (* c t)))))
"#,
    );
    check_fault(
        r#"
x^2+x\Big|_0^1
^^^^^^^^^^^^^^ Ambiguous: the bar may belong to the whole sum, as read, or to its last term: put brackets around what it belongs to, as in `\left[ \right]_a^b`
(evaluatedat (+ (^ x 2) x) 0 1)
"#,
    );
    check_fault(
        r#"
\sum_{\substack{i=1\\i\ne j}}^{n} x_i
^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ Unsupported: an upper bound is read only above an index with a first value: write `\sum_{n=1}^{N}`, or put all of the condition below
(series:sum:where (indexed x i) (system (= I 1) (≠ I j)))
"#,
    );
    check_fault(
        r#"
\{a_n\}_{n=1}^\infty
^^^^^^^^^^^^^ Unsupported: a subscript on this is not read: give it a letter of its own
(^ (opaque "\\{a_n\\}_{n=1}") Infinity)
"#,
    );
}

#[test]
fn a_case_may_begin_with_a_sign() {
    check(
        r"\begin{cases} x^2 & \text{if } x > 0 \\ -x & \text{otherwise} \end{cases}",
        r#"(piecewise (^ x 2) (> x 0) (- x) "otherwise")"#,
    );
    check(
        r"\begin{cases} x + y = 1 \\ -x + y = 2 \end{cases}",
        "(system (= (+ x y) 1) (= (+ (- x) y) 2))",
    );
    check(r"2 + .5", "(+ 2 0.5)");
}

#[test]
fn declarations_decide_between_calls_and_products() {
    let functions = Declared::new().functions(["p"]);
    check_declared(
        "p(x+1) - p(x)",
        &functions,
        "(+ (apply p (+ x 1)) (- (apply p x)))",
    );
    check("p(x+1)", "(* p (+ x 1))");
    let unknowns = Declared::new().unknowns(["y"]);
    check_declared("y(0) = 1", &unknowns, "(= (apply y 0) 1)");
    check_declared("y(1-y)", &unknowns, "(* y (+ 1 (- y)))");
    let variables = Declared::new().variables(["f", "e", "i"]);
    check_declared("f(x+1) + e^i", &variables, "(+ (* f (+ x 1)) (^ e i))");
    let mut learned = Declared::new();
    learned.learn(&read("y' = p(x)y", &Declared::new()).expression);
    assert_eq!(learned, Declared::new().functions(["p"]).unknowns(["y"]));
}

#[test]
fn ranges_are_those_of_the_parts() {
    let tex = r"\frac{x^2}{2} + \sin(3y) = \left[1, 2\right)";
    let reading = read(tex, &Declared::new());
    let parts: Vec<String> = reading
        .expression
        .parts()
        .map(|part| format!("{} {}", &tex[part.range()], part.operands().len()))
        .collect();
    assert_eq!(
        parts,
        [
            &format!("{tex} 2"),
            r"\frac{x^2}{2} + \sin(3y) 2",
            r"\frac{x^2}{2} 2",
            "x^2 2",
            "x 0",
            "2 0",
            "2 0",
            r"\sin(3y) 1",
            "3y 2",
            "3 0",
            "y 0",
            r"\left[1, 2\right) 2",
            "1 0",
            "2 0",
        ]
    );
    let y = reading
        .expression
        .part_at(tex.find('y').expect("y is in it"));
    assert_eq!(y.map(|part| format!("{part:?}")), Some("y".to_owned()));
}
