"""Are the cells of the exchangers enough? The same machines with four times as many.

What a finite volume scheme of second order says must not depend on its cells: the condenser's charge by less than 3 %, the capacity by less
than 2 %, the share of charge at which subcooling is lost by less than 0.02.

Usage: cells.py PROGRAM_AS_SHIPPED PROGRAM_WITH_MORE_CELLS
"""
import subprocess
import sys
import unittest


def answers(program):
    done = subprocess.run([program], capture_output=True, text=True, timeout=600, check=True)
    return {tuple(line.split()[:2 if "lost" in line else 3]): [float(x) for x in line.split()[2 if "lost" in line else 3:]]
            for line in done.stdout.splitlines()}


class Cells(unittest.TestCase):
    def test_cells(self):
        shipped, fine = (answers(program) for program in PROGRAMS)
        self.assertEqual(len(shipped), 8)
        for case, value in shipped.items():
            with self.subTest(case=case):
                if "lost" in case:
                    self.assertLess(abs(value[0] - fine[case][0]), 0.02)
                    continue
                for of, allowed, a, b in zip(("condenser's charge", "evaporator's charge", "capacity"), (0.03, 0.10, 0.02), value, fine[case]):
                    self.assertLess(abs(a / b - 1), allowed, f"{of}: {a} with the cells shipped, {b} with more")
        self.assertNotEqual(shipped, fine)


if __name__ == "__main__":
    PROGRAMS = sys.argv[1:3]
    unittest.main(argv=sys.argv[:1])
