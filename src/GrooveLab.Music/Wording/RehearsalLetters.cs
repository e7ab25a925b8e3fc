namespace GrooveLab.Music.Wording;

/// <summary>The letters of rehearsal marks.</summary>
public static class RehearsalLetters
{
    private const int Letters = 26;

    /// <summary>The mark of a number from 0: A to Z, then AA to ZZ, then AAA.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public static string Of(int number)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(number);
        return new string((char)('A' + (number % Letters)), (number / Letters) + 1);
    }
}
