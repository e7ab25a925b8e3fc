namespace GrooveLab.Inputs;

/// <summary>What the program tells its caller when it ends; the same for every command.</summary>
internal static class ExitCodes
{
    public const int Ok = 0;

    /// <summary>Something went wrong that was not the input's fault: a full disk, a write that was refused.</summary>
    public const int Failed = 1;

    /// <summary>A chart, a bank or an option that cannot be used.</summary>
    public const int BadInput = 2;

    /// <summary>No sound device.</summary>
    public const int NoDevice = 3;
}
