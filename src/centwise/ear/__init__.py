"""The observer, the posterior, the placement of trials, simulated listeners. Pure: numpy; imports ports and below."""
