"""What an answer does, whoever shows the exercise: saved first, confirmed then, told of."""
