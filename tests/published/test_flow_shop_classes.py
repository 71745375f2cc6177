"""The flow shops that the bench draws: the generator against a published instance."""

from __future__ import annotations

from tests.published.flow_shop_classes import BEST_KNOWN, Lehmer, drawn

# Taillard (1993): the first machine of ta001 (20 jobs, 5 machines), seed 873654221; the row from memory
TA001 = [54, 83, 15, 71, 77, 36, 53, 38, 27, 87, 76, 91, 14, 29, 12, 77, 32, 87, 68, 94]


def test_the_generator_gives_the_published_numbers() -> None:
    dice = Lehmer(873_654_221)
    assert [dice.between(1, 99) for _ in range(20)] == TA001


def test_due_dates_lie_where_their_class_says() -> None:
    made = drawn(150, 10, 0.4, 0.2, seed=5)
    assert (len(made["p"]), len(made["p"][0]), len(made["due"])) == (150, 10, 150)
    assert min(map(min, made["p"])) == 1
    assert max(map(max, made["p"])) == 100
    busiest = max(sum(row[m] for row in made["p"]) for m in range(10))
    assert 0.5 * busiest <= min(made["due"]) < max(made["due"]) <= 0.7 * 1.2 * busiest
    assert made["upper_bound"] == round(sum(BEST_KNOWN[150, 10, 0.4, 0.2]) / 5)
