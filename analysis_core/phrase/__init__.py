"""Understanding the phrase: foot contacts, pliés, relevés, turns, jumps, balances, leg gestures, counts."""
