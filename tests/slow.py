"""The slow tests, by file or by one test, each with why it takes long: `make test` leaves them out, `make test-all` runs them.

One table, so that what the fast suite does not see is read at one place.
"""

KILLED = {
    "test_whenever_a_search_is_told_to_keep_what_it_has_the_plan_holds": "twelve whole plans of the demo orders",
    "test_at_whatever_second_a_search_is_told_to_keep_what_it_has_the_plan_holds": "six whole plans of the demo orders",
    "test_a_search_that_is_stopped_gives_no_less_than_a_whole_plan_to_throw_away": "six whole plans of the demo orders",
    "test_whatever_the_time_from_0_to_5_s_the_plan_holds": "eight whole plans of the demo orders",
    "test_ctrl_c_once_writes_the_plan_as_it_is": "three plans on the command line, with their sheets",
    "test_ctrl_c_twice_leaves_nothing": "a plan on the command line",
    "test_killed_at_any_moment_the_command_leaves_a_whole_plan_or_none": "five plans on the command line, killed",
}
SLOW: dict[str, str] = {
    "api_tests/test_openapi.py": "hundreds of generated requests to a running stack, for each route",
    "api_tests/test_pages.py": "a real browser walks through all pages, in three sizes",
    "tests/integration/test_floor_plans.py": "eight plans of demo orders, each going on from a floor, then a replan of one",
    "tests/integration/test_pages_fit.py": "all pages in a real browser, judged in each size and scheme",
    "tests/integration/test_plan_rack.py": "a whole plan, for a rack without slots",
    "tests/integration/test_promise_stored.py": "a whole plan, then promises beside it on the command line",
    "tests/integration/test_replan_stored.py": "a whole plan, then real replans of several seconds each, with their sheets",
    "tests/integration/test_service_deaths.py": "supervisor, runner, jobs and web as real processes, killed and come back",
    "tests/integration/test_service_promises.py": "a whole plan, then real promises of three seconds each",
    "tests/integration/test_rolling.py": "two weeks of a plant, a whole plan each morning",
    "tests/integration/test_stored_golden.py": "every page of two stores of older versions, then a real replan of each",
    "tests/integration/test_worker_scaled.py": "PostgreSQL, Redis and Celery workers as real processes, some killed",
    "tests/property/test_book_random.py::test_ten_thousand_steps_leave_the_state_that_their_events_make": (
        "ten thousand steps, and after each the state of a store built anew from its events"
    ),
    "tests/property/test_bundling_exact.py": "every way to cut and to order, up to twelve pieces",
    "tests/property/test_going_on.py": "a whole plan goes on from any floor, whatever happened",
    "tests/property/test_loading_laws.py": "slides of loads against axle weights worked out anew, by the thousand",
    "tests/property/test_loading_random.py": "bounds of loads against every way to load, by the hundred",
    "tests/property/test_nesting_parts.py": "bounds, tables and decisions of nesting against trying everything",
    **{f"tests/property/test_plan_killed.py::{name}": why for name, why in KILLED.items()},
    "tests/property/test_replanning_small.py": "each small replan against an exact model of every way to go on",
    "tests/property/test_scheduling_rooms.py": "small shops with rooms against a plain model that is searched to its end",
    "tests/property/test_whole_sets.py": "two hundred random sets of orders as whole plans, about ten minutes",
    "tests/published/test_scheduling_published.py::test_job_shops_reach_their_published_optimum[ft10-930]": (
        "the ten by ten job shop, proved"
    ),
    "tests/unit/test_printing_fill.py::test_paper_of_several_houses_is_full_and_little": "the paper of ten houses, rendered",
    "tests/unit/test_printing_stress.py": "every sheet of large and odd orders, in both languages, on each paper and label",
    "tests/unit/test_going_on.py::test_after_a_breakdown_nothing_done_or_firm_moves_but_what_must": (
        "a whole plan of the demo orders goes on, searched for in earnest"
    ),
}
