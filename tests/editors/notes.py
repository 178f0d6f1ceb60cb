"""The notes in which the editors are tried."""

NOTES = """\
@course Waves

@exam First midterm
  on: 2027-02-26 10:00
  length: 50 min
  covers: 1.1, 1.2

@topic 1.1 Separable equations
  learned: yes

@pattern separable
  cue: the right side is a product, x in one factor and y in the other
  method: divide by the factor with y, then integrate both sides

@problem 1.1.1
  pattern: separable
  Solve $y' = x y$ with $y(0) = 2$.
  answer: $y = 2 e^{x^2/2}$

@topic 1.2 Linear equations

@pattern integrating factor
  cue: y and y' to the first power
  method: multiply by r, recognise a product rule

@problem 1.2.1
  pattern: integrating factor
  Solve $y' + 3 y = 6$.
  answer: $y = 2 + C e^{-3x}$
"""
