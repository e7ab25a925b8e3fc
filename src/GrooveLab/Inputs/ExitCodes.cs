namespace GrooveLab.Inputs;

/// <summary>The program's exit codes, the same for every command.</summary>
internal static class ExitCodes
{
    public const int Ok = 0;

    /// <summary>A failure not caused by the input, such as a full disk; also a failed check of <c>inspect</c>.</summary>
    public const int Failed = 1;

    /// <summary>A chart, a bank or an option is invalid.</summary>
    public const int BadInput = 2;

    /// <summary>No sound device.</summary>
    public const int NoDevice = 3;
}
