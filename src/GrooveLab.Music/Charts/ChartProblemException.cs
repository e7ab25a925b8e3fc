using GrooveLab.Music.Notation;

namespace GrooveLab.Music.Charts;

/// <summary>A problem that makes a chart unplayable, worded for its author: what is wrong and what is accepted.</summary>
public sealed class ChartProblemException : Exception
{
    /// <summary>Creates the exception.</summary>
    public ChartProblemException(string message)
        : base(message)
    {
    }

    /// <summary>Creates the exception for a section.</summary>
    public ChartProblemException(string message, string section, int? bar)
        : base(message)
    {
        Section = section;
        Bar = bar;
    }

    /// <summary>Creates the exception for a place in the score from which the chart is made.</summary>
    public ChartProblemException(string message, Origin? place)
        : base(message) => Place = place;

    /// <summary>The place in the score from which the chart is made, if known.</summary>
    public Origin? Place { get; }

    /// <summary>The name of the section, if known.</summary>
    public string? Section { get; }

    /// <summary>The bar in the section, from 0, if known.</summary>
    public int? Bar { get; }
}
