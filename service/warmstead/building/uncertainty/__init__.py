"""How sure a load is: uncertain inputs, many draws of them, and what knowing each would be worth."""
