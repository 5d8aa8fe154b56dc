"""Stations side by side without a league table: funnel, ranks with their uncertainty, rates drawn together."""
