"""The trade as pure functions and frozen value objects, standard library only.

Units are SI with the trade's habits (m, V, A, Ω, kbit/s); every number carries its source. A plan
that cannot exist raises `labkit.fieldbus.errors.PlanError` with a sentence; a rule's outcome is a
`labkit.fieldbus.result.RuleResult`.
"""
