namespace GrooveLab.Music.Time;

/// <summary>Prime factors of whole numbers.</summary>
internal static class PrimeFactors
{
    /// <summary>How many there are, each as often as it divides: 2 of 4, 3 of 12; none of 1.</summary>
    /// <param name="number">At least 1.</param>
    public static int CountOf(long number)
    {
        var count = 0;
        for (var factor = 2L; factor * factor <= number; factor++)
        {
            while (number % factor == 0)
            {
                number /= factor;
                count++;
            }
        }

        return number > 1 ? count + 1 : count;
    }
}
