"""The observer, the posterior, the placement of trials and simulated listeners. Pure: numpy; imports ports and below."""
