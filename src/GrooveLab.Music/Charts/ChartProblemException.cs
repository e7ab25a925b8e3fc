namespace GrooveLab.Music.Charts;

/// <summary>Something in a chart that cannot be played, in words for its writer: what is wrong and what is accepted.</summary>
public sealed class ChartProblemException : Exception
{
    /// <summary>Makes the exception.</summary>
    public ChartProblemException(string message)
        : base(message)
    {
    }

    /// <summary>Makes the exception for a section.</summary>
    public ChartProblemException(string message, string section, int? bar)
        : base(message)
    {
        Section = section;
        Bar = bar;
    }

    /// <summary>Name of the section, when it is known.</summary>
    public string? Section { get; }

    /// <summary>The bar in the section, from 0, when it is known.</summary>
    public int? Bar { get; }
}
